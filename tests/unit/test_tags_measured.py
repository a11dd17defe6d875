"""What tags add to a set: centimetres of their own, the axis as a pivot, the report's parts and its note."""

from __future__ import annotations

import numpy as np
import pytest
from test_load import PX, a_set, context, drive_reps, heights, hidden, path_of, track_of
from test_tags import lever_path

from shared.domain import Frame
from shared.exercise import find_exercise
from shared.tags import tag_id
from tests.people import CLIP
from vision.measuring.machine.load import find_load, height_signal
from vision.measuring.machine.shown import Machine, read_machine
from vision.pipeline import OTHER_TAGS, _with_tags
from vision.seeing.look import Seen
from vision.seeing.marks import MarkPath
from vision.seeing.tags import TagPath, tag_point
from vision.telling.machine_report import machine_notes, machine_part

#: The tag stands nearer to the camera than the person: so many px a centimetre more.
NEARER = 1.4
TITLE = "leg-extension"


def tagged(path: MarkPath, nearer: float = NEARER) -> TagPath:
    """The same way as a stack tag of 6 cm shows it."""
    half = 3.0 * PX * nearer
    square = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
    steady = (path.steady_px - path.steady_px[0]) * nearer + path.steady_px[0]
    point = tag_point("stack", steady[0], 0.0)
    corners = steady[:, None] + square
    return TagPath(point, path.time_s, steady, steady, path.confidence, corners_px=corners)


def with_tag(path: MarkPath) -> Machine:
    truth = a_set()
    ctx = context(truth, path_of(heights(truth)))
    found = read_machine({"stack": path}, ctx.track, ctx.signals, find_exercise(TITLE), drive_reps(truth))
    return found


def test_a_tag_s_own_size_gives_centimetres_whoever_sits_there():
    truth = a_set()
    height, track = heights(truth), track_of(truth)
    load = find_load(tagged(path_of(height)), track, drive_reps(truth))
    assert load.height_cm == pytest.approx(height, abs=0.3)
    assert track.cm_per_px is None and height_signal(load, tagged(path_of(height)), track).unit == "cm"
    by_mark = find_load(path_of(height), track, drive_reps(truth))
    assert (
        load.reps is not None and by_mark.reps is not None and len(load.reps.full) == len(by_mark.reps.full)
    )


def test_the_report_tells_the_load_s_own_moments_and_that_a_tag_gave_them():
    machine = with_tag(tagged(path_of(heights(a_set()))))
    part = machine_part(machine, drive_reps(a_set()), 15.0)
    assert part is not None and part.load is not None
    (mark,) = part.marks
    assert mark.tag and mark.name == "stack"
    bounds = a_set().bounds()
    for row, (start, turn, lower, end) in zip(part.load.reps, bounds, strict=True):
        assert (row.start_s, row.turn_s) == pytest.approx((start, turn), abs=0.15)
        assert (row.lower_start_s, row.end_s) == pytest.approx((lower, end), abs=0.15)
    said = machine_notes(machine, find_exercise(TITLE), usable=True)
    assert any("stack tag, seen in 100% of the frames" in note for note in said)


def test_where_a_tag_was_lost_is_said():
    machine = with_tag(hidden(tagged(path_of(heights(a_set()))), 8.0, 12.0))
    said = machine_notes(machine, find_exercise(TITLE), usable=True)
    assert any("The tag 'stack' was lost for 4.0" in note for note in said)


@pytest.mark.parametrize(("exercise", "pivot"), [("leg-extension", True), ("chest-press", False)])
def test_a_lever_beside_a_joint_gives_its_axis_as_the_pivot(exercise: str, pivot: bool):
    truth = a_set()
    seconds = np.arange(0.0, truth.duration_s, 1 / 30)
    path, axis = lever_path(truth.drive(seconds) - truth.low)
    ctx = context(truth, path_of(heights(truth)))
    definition, reps = find_exercise(exercise), drive_reps(truth)
    signals = {definition.drive.signal: ctx.signals["knee"]}
    machine = read_machine({"lever": path}, ctx.track, signals, definition, reps)
    assert machine.lever is not None and machine.lever.range_deg == pytest.approx(truth.range, abs=1.5)
    assert ("pivot" in machine.marks) == pivot
    if pivot:
        assert np.linalg.norm(machine.marks["pivot"].xy_px - axis, axis=1).max() < 5.0


class TaggedSource:
    """A still picture of a tag as a clip."""

    clip = CLIP

    def __init__(self, image: np.ndarray):
        self._image = image

    def frames(self, *_: float, gray: bool, **__: float):
        for i in range(30):
            yield Frame(i, i / 10, self._image)


@pytest.mark.parametrize(("machine", "paths", "notes"), [(2, ["stack"], 0), (4, [], 1), (None, [], 0)])
def test_only_the_tags_of_the_named_machine_are_used(machine: int | None, paths: list[str], notes: int):
    from sample_clips.tagged import paper

    image = np.full((240, 320), 120, np.uint8)
    if machine is not None:
        sheet = paper(tag_id(machine, "stack"))
        image[60 : 60 + len(sheet), 80 : 80 + len(sheet)] = sheet
    seen = Seen(
        clip=CLIP, luma=100.0, sharpness=1.0, survey=None, subject=object(), dense=None, model=""  # type: ignore[arg-type]
    )  # fmt: skip
    found = _with_tags(seen, TaggedSource(image), find_exercise(TITLE), lambda share: None)
    assert list(found.marks) == paths and len(found.notes) == notes
    if notes:
        assert found.notes[0] == OTHER_TAGS.format(title="seated leg curl")
    if machine is None:
        assert found is seen, "a clip without tags is judged as ever"
