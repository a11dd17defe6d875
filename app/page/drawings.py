"""Drawn pictures of how to film each machine: where the phone stands, and what must be in the picture."""

from __future__ import annotations

from dataclasses import dataclass

from shared.drawing import Drawing, Line
from shared.exercise import CameraView, Exercise

_FLOOR: Line = ((8.0, 142.0), (112.0, 142.0))
_WHERE = {"side": "straight to the side", "front": "straight in front", "rear": "straight behind"}


@dataclass(frozen=True)
class Drawn:
    """An SVG, and what it shows in words."""

    svg: str
    words: str


def film_drawing(exercise: Exercise, view: CameraView) -> Drawn:
    """The machine from above with the phone; beside it the phone's picture, where the file draws one."""
    words = f"Phone {_WHERE[view]}, two to three metres away"
    if exercise.drawing is None:
        return Drawn(f'<svg viewBox="-75 0 330 200">{_plan(view)}</svg>', f"{words}.")
    svg = f'<svg viewBox="0 0 330 200">{_plan(view)}{_picture(exercise.drawing)}</svg>'
    return Drawn(svg, f"{words}; in the picture: {exercise.drawing.sees}.")


def posture_drawing(exercise: Exercise) -> str:
    """An SVG of the posture alone; empty where the file draws none."""
    if exercise.drawing is None:
        return ""
    return f'<svg viewBox="188 12 124 160">{_picture(exercise.drawing)}</svg>'


def _plan(view: CameraView) -> str:
    """From above: machine and person looking up the page, phone on its stand, the distance."""
    phone = {"side": (150, 92), "front": (70, 14), "rear": (70, 172)}[view]
    person = (58, 92) if view == "side" else (70, 112) if view == "front" else (70, 74)
    x, y = person
    px, py = phone
    if view == "side":
        cone = f"M{px} {py} {x + 14} {y - 46}V{y + 46}Z"
        words, at = "2 to 3 m", (px - 30.0, py + 17.0)
    else:
        far = y - 16 if view == "front" else y + 16
        cone = f"M{px} {py} {x - 46} {far}H{x + 46}Z"
        words, at = "2 to 3 m", (px + 34.0, (py + y) / 2 + 4)
    return (
        f'<path class="f-cone" d="{cone}"/><line class="f-far" x1="{x}" y1="{y}" x2="{px}" y2="{py}"/>'
        f'<rect class="f-machine" x="{x - 22}" y="{y - 26}" width="44" height="52" rx="5"/>'
        f'<path class="f-person" d="M{x - 13} {y + 4}h26"/><circle class="f-head" cx="{x}" cy="{y}" r="7"/>'
        f'<path class="f-nose" d="M{x - 4} {y - 11}h8l-4-7z"/>'
        f'<rect class="f-phone" x="{px - 5}" y="{py - 9}" width="10" height="18" rx="2"/>'
        f'<text x="{at[0]}" y="{at[1]}" class="f-text">{words}</text>'
        f'<text x="70" y="{192 if view != "rear" else 10}" class="f-text f-quiet">from above</text>'
    )


def _picture(posture: Drawing) -> str:
    lines = "".join(
        f'<polyline class="f-machine" points="{_points(p)}"/>' for p in (*posture.machine, _FLOOR)
    )
    body = "".join(f'<polyline class="f-limb" points="{_points(p)}"/>' for p in posture.limbs)
    dots = "".join(f'<circle class="f-joint" cx="{x:g}" cy="{y:g}" r="3.2"/>' for x, y in posture.moving)
    x, y = posture.head
    return (
        '<g transform="translate(190 14)"><rect class="f-screen" width="120" height="156" rx="8"/>'
        f'{lines}{body}<circle class="f-face" cx="{x:g}" cy="{y:g}" r="9"/>'
        f'<polyline class="f-moving" points="{_points(posture.moving)}"/>{dots}</g>'
        '<text x="250" y="192" class="f-text f-quiet">in the picture</text>'
    )


def _points(points: Line) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)
