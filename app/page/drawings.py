"""Drawn pictures of how to film each machine: where the phone stands, and what must be in the picture."""

from __future__ import annotations

from dataclasses import dataclass

Point = tuple[float, float]


@dataclass(frozen=True)
class Posture:
    """One person on one machine as the phone sees them, in a picture 120 wide and 150 high.

    limbs: lines through joints; moving: the limb that must stay in the picture; machine: its parts.
    """

    head: Point
    limbs: tuple[tuple[Point, ...], ...]
    moving: tuple[Point, ...]
    machine: tuple[tuple[Point, ...], ...]
    sees: str


_SEAT = ((38.0, 104.0), (74.0, 104.0))
_BACK = ((38.0, 104.0), (33.0, 52.0))
_FLOOR = ((8.0, 142.0), (112.0, 142.0))
_TRUNK = ((42.0, 98.0), (40.0, 56.0))
_SHANKS = ((42.0, 98.0), (72.0, 98.0), (74.0, 136.0), (84.0, 137.0))
_SHOULDER = (40.0, 56.0)

_SIDE: dict[str, Posture] = {
    "leg-extension": Posture(
        (41, 42), (_TRUNK, (_SHOULDER, (46, 78), (54, 96)), ((42, 98), (72, 98))),
        ((72, 98), (103, 90), (106, 81)), (_SEAT, _BACK, ((72, 104), (98, 97))),
        "head, hip, knee and both feet",
    ),
    "leg-curl": Posture(
        (41, 42), (_TRUNK, (_SHOULDER, (46, 78), (54, 96)), ((42, 98), (72, 98))),
        ((72, 98), (62, 130), (71, 134)), (_SEAT, _BACK, ((60, 92), (84, 92)), ((72, 104), (58, 128))),
        "head, hip, knee and both feet",
    ),
    "chest-press": Posture(
        (41, 42), (_TRUNK, _SHANKS), (_SHOULDER, (64, 62), (88, 58)), (_SEAT, _BACK, ((88, 50), (88, 68))),
        "trunk, shoulder, elbow and both hands",
    ),
    "shoulder-press": Posture(
        (41, 42), (_TRUNK, _SHANKS), (_SHOULDER, (56, 40), (50, 14)), (_SEAT, _BACK, ((42, 14), (60, 14))),
        "head, elbows and hands at the highest point",
    ),
    "lat-pulldown": Posture(
        (49, 42), (((50, 98), (48, 56)), ((50, 98), (80, 98), (80, 136), (90, 137))),
        ((48, 56), (66, 42), (60, 14)),
        (((42, 104), (82, 104)), ((48, 14), (76, 12)), ((72, 90), (88, 90)), ((62, 12), (62, 2))),
        "trunk, both arms and the bar at its highest point",
    ),
}  # fmt: skip
_FACING: dict[str, Posture] = {
    "chest-fly": Posture(
        (60, 38), (((60, 100), (60, 54)), ((46, 136), (48, 104), (60, 100), (72, 104), (74, 136))),
        ((16, 58), (34, 62), (50, 58), (70, 58), (86, 62), (104, 58)),
        (((44, 30), (44, 100), (76, 100), (76, 30)), ((16, 46), (16, 72)), ((104, 46), (104, 72))),
        "both hands at their widest, head and hips",
    ),
    "reverse-fly": Posture(
        (60, 38), (((60, 100), (60, 54)), ((46, 136), (48, 104), (60, 100), (72, 104), (74, 136))),
        ((14, 56), (32, 60), (50, 58), (70, 58), (88, 60), (106, 56)),
        (((48, 104), (72, 104)), ((14, 46), (14, 68)), ((106, 46), (106, 68))),
        "both hands at their widest, head and hips",
    ),
}  # fmt: skip


@dataclass(frozen=True)
class Drawing:
    """An SVG, and what it shows in words."""

    svg: str
    words: str


def film_drawing(exercise: str, view: str) -> Drawing | None:
    """Two drawings side by side: the machine from above with the phone, and the phone's picture."""
    posture = _SIDE.get(exercise) or _FACING.get(exercise)
    if posture is None:
        return None
    where = {"side": "straight to the side", "front": "straight in front", "rear": "straight behind"}[view]
    svg = f'<svg viewBox="0 0 330 200">{_plan(view)}{_picture(posture)}</svg>'
    return Drawing(svg, f"Phone {where}, two to three metres away; in the picture: {posture.sees}.")


def _plan(view: str) -> str:
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


def _picture(posture: Posture) -> str:
    lines = "".join(
        f'<polyline class="f-machine" points="{_points(p)}"/>' for p in (*posture.machine, _FLOOR)
    )
    body = "".join(f'<polyline class="f-limb" points="{_points(p)}"/>' for p in posture.limbs)
    dots = "".join(f'<circle class="f-joint" cx="{x}" cy="{y}" r="3.2"/>' for x, y in posture.moving)
    x, y = posture.head
    return (
        '<g transform="translate(190 14)"><rect class="f-screen" width="120" height="156" rx="8"/>'
        f'{lines}{body}<circle class="f-face" cx="{x}" cy="{y}" r="9"/>'
        f'<polyline class="f-moving" points="{_points(posture.moving)}"/>{dots}</g>'
        '<text x="250" y="192" class="f-text f-quiet">in the picture</text>'
    )


def _points(points: tuple[Point, ...]) -> str:
    return " ".join(f"{x:g},{y:g}" for x, y in points)
