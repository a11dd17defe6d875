"""A recording of minutes to hours -> the sets that seem to be in it, where to cut them, and whose they are.

Cheap steps first: where anything stirs, then who sits there and repeats a movement, then cards and tags about
each of those. What is found is coarse; each cut is checked by ``vision.pipeline`` like any other clip.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from itertools import islice, pairwise
from pathlib import Path

import numpy as np

from shared.domain import Clip, Frame, Landmarks
from shared.exercise import exercise_names, find_exercise
from shared.recording import Likely, LikelySets
from vision.common.poses import one_after_the_other, torso
from vision.common.seams import FrameSource, PoseEstimator, Progress
from vision.judging.guess import movement_of
from vision.measuring.measure import stays
from vision.measuring.reps.sittings import Bout, Sitting, find_bouts, find_sittings
from vision.measuring.track.build import build_track
from vision.seeing.clip import open_clip
from vision.seeing.follow import pick
from vision.seeing.look import Seen
from vision.seeing.member_cards import shown_card
from vision.seeing.recorded_at import recorded_at
from vision.seeing.stir import Stretch, stirring
from vision.seeing.subject import SURVEY_PEOPLE, find_subject
from vision.seeing.survey_as_look import as_close_look
from vision.seeing.tag_finder import Finder
from vision.seeing.tag_tracker import seen_machines

#: People are looked for so often, s: twice this is still no gap to ``vision.seeing.survey_as_look``.
STEP_S = 0.3
#: Stretches are looked at in pieces of this length, s, side by side.
PIECE_S = 120.0
#: A cut begins and ends so long, s, before and after the bout: a slow repetition, which may be a small one
#: at its edge, and five seconds.
MARGIN_S = 9.0
#: A card is looked for from so long, s, before somebody sits down until so long after the first bout seems to
#: begin, which may be a reach with the card in the hand, and so often.
CARD_BEFORE_S, CARD_AFTER_S, CARD_STEP_S = 20.0, 10.0, 0.2
#: Tags are looked for at these shares of a bout; a machine is told by so many of them.
TAG_SHARES, TAG_SURE = (0.1, 0.3, 0.5, 0.7), 2
_PARTS = ("shoulder", "elbow", "wrist", "hip", "knee", "ankle")


def find_sets(
    path: Path, pose: PoseEstimator, progress: Progress | None = None, threads: int = 2
) -> LikelySets:
    """The sets that a recording seems to hold.

    Raises
    ------
    ClipError : it cannot be read, or is longer than two hours.
    """
    report, source = progress or (lambda share: None), open_clip(path)
    stretches = stirring(path, source, lambda share: report(0.2 * share))
    stirred_s = sum(end_s - start_s for start_s, end_s in stretches)
    survey = _survey(source, pose, stretches, lambda share: report(0.2 + 0.7 * share), threads)
    if survey is None:
        return LikelySets(source.clip.duration_s, stirred_s, (), recorded_at(path))
    sittings = find_sittings(survey)
    bouts = find_bouts(survey, sittings)
    likely = cuts(bouts, source.clip.duration_s)
    cards = {
        index: shown_card(_before(source, bouts, survey.time_s[sittings[index].rows[0]], index))
        for index in {bout.sitting for bout in bouts}
    }
    told = [
        replace(
            one, card=cards[one.sitting], tag=_tag(source, one),
            fits=fits(survey, sittings[one.sitting], one, source.clip), at=where(survey, sittings, one),
        )
        for one in likely
    ]  # fmt: skip
    report(1.0)
    return LikelySets(source.clip.duration_s, stirred_s, tuple(told), recorded_at(path))


def _survey(
    source: FrameSource, pose: PoseEstimator, stretches: Sequence[Stretch], report: Progress, threads: int
) -> Landmarks | None:
    """Everyone in the stretches; the same with any number of threads. None where there is none."""
    pieces = [piece for stretch in stretches for piece in _pieces(stretch)]
    with ThreadPoolExecutor(threads) as pool:
        looked = pool.map(lambda p: pose.survey(source.frames(p[0], p[1], STEP_S), SURVEY_PEOPLE), pieces)
        rows: list[Landmarks] = []
        for one in looked:
            rows.append(one)
            report(len(rows) / len(pieces))
    return one_after_the_other(rows) if rows else None


def _pieces(stretch: Stretch) -> Iterator[Stretch]:
    start_s, end_s = stretch
    count = max(1, round((end_s - start_s) / PIECE_S))
    edges = np.linspace(start_s, end_s, count + 1).tolist()
    # a hair's breadth apart, so that no picture is looked at twice
    yield from ((a, b - 1e-4 if b < end_s else b) for a, b in pairwise(edges))


def cuts(bouts: Sequence[Bout], length_s: float) -> list[Likely]:
    """Where to cut each bout: with ``MARGIN_S`` about it, but never into one before or after it."""
    out = []
    for bout in bouts:
        earlier = [(b.end_s + bout.start_s) / 2 for b in bouts if b.end_s <= bout.start_s]
        later = [(bout.end_s + b.start_s) / 2 for b in bouts if b.start_s >= bout.end_s]
        start_s = max([0.0, bout.start_s - MARGIN_S, *earlier])
        end_s = min([length_s, bout.end_s + MARGIN_S, *later])
        out.append(Likely(bout.start_s, bout.end_s, start_s, end_s, bout.sitting, bout.swings))
    return out


def _before(source: FrameSource, bouts: Sequence[Bout], sat_s: float, index: int) -> Iterator[Frame]:
    """Grey pictures in which a card is that of who sat down at a moment (s) for a sitting.

    Not before the last set of somebody else: that person may have held up theirs.
    """
    start_s = min(bout.start_s for bout in bouts if bout.sitting == index)
    others = [bout.end_s for bout in bouts if bout.sitting != index and bout.end_s < start_s]
    begin_s = max([0.0, sat_s - CARD_BEFORE_S, *others])
    yield from source.frames(begin_s, start_s + CARD_AFTER_S, CARD_STEP_S, gray=True)


def _tag(source: FrameSource, one: Likely) -> int | None:
    """The number of the machine whose printed tags are seen about a set."""
    finder, seen = Finder(), Counter[int]()
    for share in TAG_SHARES:
        moment_s = one.start_s + share * (one.end_s - one.start_s)
        for frame in islice(source.frames(moment_s, moment_s + 1.0, gray=True), 1):
            seen.update(seen_machines(set(finder.anywhere(frame.image))))
    return next((number for number, times in seen.most_common(1) if times >= TAG_SURE), None)


def where(survey: Landmarks, sittings: Sequence[Sitting], one: Likely) -> tuple[float, float, float] | None:
    """A point on the person in the middle of a set, px, and its moment, s; None where nobody else sits."""

    def meanwhile(sitting: Sitting) -> list[int]:
        return [k for k, row in enumerate(sitting.rows) if one.start_s <= survey.time_s[row] <= one.end_s]

    own = sittings[one.sitting]
    if not any(meanwhile(other) for other in sittings if other is not own):
        return None
    rows = meanwhile(own)
    at = own.rows[rows[len(rows) // 2]], own.slots[rows[len(rows) // 2]]
    (x, y), _ = torso(survey.image_px[at])
    return float(x), float(y), float(survey.time_s[at[0]])


def fits(survey: Landmarks, sitting: Sitting, one: Likely, clip: Clip) -> tuple[str, ...]:
    """Names of the machines that ship whose movement this is; empty where that is not told."""
    rows = [k for k, row in enumerate(sitting.rows) if one.cut_start_s <= survey.time_s[row] <= one.cut_end_s]
    at = np.array(sitting.rows)[rows], np.array(sitting.slots)[rows]
    own = Landmarks(
        survey.frame[at[0]], survey.time_s[at[0]] - one.cut_start_s,
        image_px=survey.image_px[at][:, None], world_m=survey.world_m[at][:, None],
        visibility=survey.visibility[at][:, None], presence=survey.presence[at][:, None], model=survey.model,
    )  # fmt: skip
    subject = find_subject(own, clip)
    seen = Seen(clip=clip, luma=0.0, sharpness=0.0, survey=own, subject=subject, dense=None, model=own.model)
    followed = as_close_look(seen)
    if subject is None or followed is None or followed.dense is None:
        return ()
    track = build_track(pick(followed.dense, subject), clip, limbs=_PARTS)
    movement = None if track is None else movement_of(track, stays(track))
    if movement is None:
        return ()
    return tuple(name for name in exercise_names() if movement.fits(find_exercise(name)))
