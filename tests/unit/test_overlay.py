"""What is drawn lies where the points are, says the number that was measured, and is seen on any ground."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from shared.domain import Track, View
from shared.keypoints import INDEX
from shared.report import FindingPart
from vision.seeing.marks import MarkPath, MarkPoint
from vision.telling.overlay import (
    draw_angle,
    draw_limbs,
    draw_marks,
    draw_plumb,
    flag_picture,
    mark_points,
    points_at,
    value_text,
)
from vision.telling.strokes import FAR, MEASURED, NEAR, TEXT, label, stroke, text_width

GREY = np.full((480, 640, 3), 90, np.uint8)
PLACES = {
    "shoulder": (300, 140), "elbow": (340, 210), "wrist": (330, 280), "hip": (300, 280),
    "knee": (420, 290), "ankle": (430, 400), "foot_index": (470, 410),
}  # fmt: skip


def track(lean_px: float = 0.0, view: str = "side-left") -> Track:
    """Five still samples at 10 Hz; the shoulders lean right by lean_px in the last one only."""
    points = np.full((5, 33, 2), np.nan)
    for part, (x, y) in PLACES.items():
        points[:, INDEX[f"left_{part}"]] = (x, y)
        points[:, INDEX[f"right_{part}"]] = (x - 60, y + 10)
    points[4, [INDEX["left_shoulder"], INDEX["right_shoulder"]], 0] += lean_px
    return Track(
        time_s=np.arange(5) / 10, rate_hz=10.0, points_px=points, world_m=np.zeros((5, 33, 3)),
        visibility=np.ones((5, 33)), jitter_px=np.ones(33), near="left", facing=1,
        view=View(view, 0.0, 90.0), trunk_px=140.0, picture=(640, 480),  # type: ignore[arg-type]
    )  # fmt: skip


def finding(
    points: list[str],
    measured: float | None,
    unit: str = "deg",
    time_s: float | None = 0.2,
    uncertainty: float = 0.8,
) -> FindingPart:
    return FindingPart.model_validate(
        {"check": "x", "rep": 1, "time_s": time_s, "frame": 6, "verdict": "flag", "measured": measured,
         "uncertainty": uncertainty, "limit": 10.0, "unit": unit, "prompt": None, "points": points}
    )  # fmt: skip


def places_of(image: np.ndarray, colour: tuple[int, int, int]) -> np.ndarray:
    """x, y of the pixels of exactly that colour, (K, 2)."""
    return np.argwhere((image == np.array(colour)).all(axis=2))[:, ::-1]


def near(image: np.ndarray, x: float, y: float, reach: int = 3) -> np.ndarray:
    return image[round(y) - reach : round(y) + reach + 1, round(x) - reach : round(x) + reach + 1]


def has(image: np.ndarray, colour: tuple[int, int, int]) -> bool:
    return bool((image == np.array(colour)).all(axis=2).any())


def test_limbs_are_where_the_points_are_and_the_near_side_is_bold() -> None:
    before = GREY.copy()
    out = draw_limbs(GREY, points_at(track(), 0.2, 1.0), "left")
    assert np.array_equal(GREY, before), "a copy is drawn on"
    assert has(near(out, 360, 285), NEAR), "middle of the near thigh"
    assert has(near(out, 300, 295), FAR), "middle of the far thigh"
    assert len(places_of(out, NEAR)) > 1.3 * len(places_of(out, FAR))


def test_without_a_near_side_both_look_alike() -> None:
    out = draw_limbs(GREY, points_at(track(), 0.2, 1.0), None)
    assert not has(out, FAR)
    assert has(near(out, 300, 295), NEAR)


@pytest.mark.parametrize("ground", [0, 90, 200, 255])
def test_strokes_show_on_any_ground(ground: int) -> None:
    out = draw_limbs(np.full_like(GREY, ground), points_at(track(), 0.2, 1.0), "left")
    column = out[230:350, 360].astype(int).sum(axis=1)
    assert column.max() - column.min() > 250


def test_strokes_grow_with_the_picture() -> None:
    assert stroke(np.zeros((2000, 3000, 3), np.uint8)) > 3 * stroke(GREY)
    assert stroke(np.zeros((20, 30, 3), np.uint8)) == 2.0


def test_the_arc_lies_inside_the_angle_or_outside_when_it_is_reflex() -> None:
    corner = ((100.0, 300.0), (300.0, 300.0), (300.0, 100.0))
    inside = places_of(draw_angle(GREY, *corner, ""), MEASURED)
    outside = places_of(draw_angle(GREY, *corner, "", reflex=True), MEASURED)
    off = 20

    def beyond(places: np.ndarray) -> int:
        return int(np.count_nonzero((places[:, 0] > 300 + off) | (places[:, 1] > 300 + off)))

    def within(places: np.ndarray) -> int:
        return int(np.count_nonzero((places[:, 0] < 300 - off) & (places[:, 1] < 300 - off)))

    assert within(inside) > 50
    assert beyond(inside) == 0
    assert within(outside) == 0
    assert beyond(outside) > 100


def test_a_plumb_line_stands_upright_and_a_reference_leans() -> None:
    plumb = places_of(draw_plumb(GREY, (300, 400), (200, 200), ""), TEXT)
    assert np.ptp(plumb[:, 0]) <= 2 * stroke(GREY)
    leaning = places_of(draw_plumb(GREY, (300, 400), (200, 200), "", reference_deg=20.0), TEXT)
    top = leaning[np.argmin(leaning[:, 1])]
    assert np.degrees(np.arctan2(top[0] - 300, 400 - top[1])) == pytest.approx(20, abs=1.5)


def test_a_change_is_drawn_against_the_sets_own_lean() -> None:
    """The trunk stood upright and now leans by 20 degrees: compared with upright both ways."""
    lean = 140 * np.tan(np.radians(20))
    out = flag_picture(GREY, finding(["left_hip", "left_shoulder"], 20.0, time_s=0.4), track(lean))
    assert np.ptp(places_of(out, TEXT)[:40, 0]) <= 40
    moved = track(lean)
    moved.points_px[:, [INDEX["left_shoulder"]], 0] += (
        60.0  # all of the set leans; the flag is the rest of it
    )
    out = flag_picture(GREY, finding(["left_hip", "left_shoulder"], 16.0, time_s=0.4), moved)
    dashes = places_of(out, TEXT)
    top = dashes[np.argmin(dashes[:, 1])]
    now = np.degrees(np.arctan2(60 + lean, 140))
    assert np.degrees(np.arctan2(top[0] - 300, 280 - top[1])) == pytest.approx(now - 16, abs=3)


@pytest.mark.parametrize(
    ("points", "unit", "measured"),
    [
        (["left_hip", "left_knee", "left_ankle"], "deg", 110.0),
        (["left_hip", "left_knee", "left_ankle"], "deg", 184.0),
        (["mid_hip", "mid_shoulder"], "deg", 12.0),
        (["left_hip", "left_shoulder"], "cm", 4.0),
    ],
)
def test_a_flag_shows_its_points_in_the_measured_colour(
    points: list[str], unit: str, measured: float
) -> None:
    out = flag_picture(GREY, finding(points, measured, unit), track())
    known = points_at(track(), 0.2, 1.0)
    for name in points:
        assert has(near(out, *known[name]), MEASURED), name
    assert has(out, TEXT), "the number"


@pytest.mark.parametrize(
    ("measured", "unit", "uncertainty"), [(0.2, "trunk_fraction", 0.0), (-4.0, "cm", 0.1), (12.0, "deg", 2.5)]
)
def test_a_number_that_is_not_fit_for_a_member_is_not_drawn(
    measured: float, unit: str, uncertainty: float
) -> None:
    part = ["left_shoulder", "left_hip"]
    bare = flag_picture(GREY, finding(part, None, unit), track())
    out = flag_picture(GREY, finding(part, measured, unit, uncertainty=uncertainty), track())
    assert has(out, MEASURED)
    if unit != "deg":
        assert np.array_equal(out, bare)
    else:  # the dashed upright is white too: only the number is missing
        sure = flag_picture(GREY, finding(part, measured, unit), track())
        assert len(places_of(out, TEXT)) < len(places_of(sure, TEXT))


@pytest.mark.parametrize(
    ("moved_px", "unit"), [(28.0, "trunk_fraction"), (-28.0, "trunk_fraction"), (28.0, "cm")]
)
def test_a_moved_point_is_drawn_from_where_it_usually_is(moved_px: float, unit: str) -> None:
    seen = track()
    seen.points_px[4, INDEX["left_hip"], 0] += moved_px
    if unit == "cm":
        seen = replace(seen, cm_per_px=0.4)
    measured = abs(moved_px) * 0.4 if unit == "cm" else abs(moved_px) / 140.0
    out = flag_picture(GREY, finding(["left_hip"], measured, unit, time_s=0.4), seen)
    assert has(near(out, 300 + moved_px, 280), MEASURED), "where it is now"
    assert has(near(out, 300 + moved_px / 2, 280), MEASURED), "the way it went"
    dashes = places_of(out, TEXT)
    assert np.count_nonzero(np.abs(dashes[:, 0] - 300) <= 2 * stroke(GREY)) > 40, "where it was"


def test_a_flag_on_a_smaller_picture_is_drawn_to_scale() -> None:
    small = np.ascontiguousarray(GREY[::2, ::2])
    out = flag_picture(small, finding(["left_hip", "left_knee", "left_ankle"], 110.0), track())
    assert has(near(out, 210, 145), MEASURED)


def test_what_is_not_known_is_not_drawn() -> None:
    unknown = track()
    unknown.points_px[:, INDEX["left_ankle"]] = np.nan
    out = flag_picture(GREY, finding(["left_hip", "left_knee", "left_ankle"], 110.0), unknown)
    assert not has(out, MEASURED)
    assert has(near(out, 360, 285), NEAR)
    no_moment = flag_picture(GREY, finding([], 3.0, "s", time_s=None), track())
    assert np.array_equal(no_moment, GREY)


def test_points_between_samples_are_interpolated_and_none_are_made_up_outside() -> None:
    moved = track(lean_px=40.0)
    assert points_at(moved, 0.35, 1.0)["left_shoulder"][0] == pytest.approx(320)
    assert points_at(moved, 0.35, 0.5)["left_shoulder"][0] == pytest.approx(160)
    assert points_at(moved, 0.45, 1.0)["left_shoulder"][0] == pytest.approx(340)
    assert points_at(moved, 0.7, 1.0) == {}
    assert "nose" not in points_at(moved, 0.2, 1.0)


@pytest.mark.parametrize(
    ("measured", "unit", "text"),
    [(171.6, "deg", "172°"), (0.84, "s", "0.8 s"), (3.14, "cm", "3.1 cm"), (None, "deg", "")],
)
def test_a_number_has_its_unit(measured: float | None, unit: str, text: str) -> None:
    assert value_text(finding([], measured, unit)) == text


@pytest.mark.parametrize("at", [(0.0, 0.0), (639.0, 0.0), (0.0, 479.0), (639.0, 479.0), (-900.0, 5000.0)])
def test_words_stay_inside_the_picture(at: tuple[float, float]) -> None:
    whole = len(places_of(label(GREY, (320.0, 240.0), "172°", np.zeros(2)), TEXT))
    assert len(places_of(label(GREY, at, "172°", np.zeros(2)), TEXT)) >= 0.95 * whole
    assert text_width("172°", 20) > text_width("1", 20)


def marks(**at: tuple[float, float]) -> dict[str, MarkPath]:
    time_s = np.arange(10) / 10
    paths = {}
    for name, xy in at.items():
        places = np.tile(np.array(xy, dtype=float), (10, 1))
        places[6:] = np.nan
        point = MarkPoint(name, *xy, 0.0)  # type: ignore[arg-type]
        paths[name] = MarkPath(point, time_s, places, places, np.where(np.arange(10) < 6, 1.0, 0.0))
    return paths


def test_marks_are_drawn_where_they_are_known_and_nowhere_else() -> None:
    given = marks(stack=(60.0, 90.0))
    assert mark_points(given, 0.3, 0.5) == {"stack": (30.0, 45.0)}
    assert mark_points(given, 0.9, 1.0) == {}
    drawn = draw_marks(GREY, given, 0.3, 1.0)
    changed = np.argwhere((drawn != GREY).any(axis=2))
    assert len(changed) and np.abs(changed - (90, 60)).max() < 25
    assert (draw_marks(GREY, given, 0.9, 1.0) == GREY).all()


@pytest.mark.parametrize(
    ("points", "measured", "unit"), [(["stack"], 1.4, "s"), (["pivot", "left_knee"], 4.2, "cm")]
)
def test_what_a_mark_measured_is_drawn_at_it(points: list[str], measured: float, unit: str) -> None:
    given = marks(stack=(60.0, 90.0), pivot=(200.0, 200.0))
    one = finding(points, measured, unit, uncertainty=0.2)
    plain = flag_picture(GREY, finding([], measured, unit), track(), given)
    assert (flag_picture(GREY, one, track(), given) != plain).any()
    assert (flag_picture(GREY, one, track()) == flag_picture(GREY, finding([], 1.0, "s"), track())).all()
