"""Is a clip fit to judge? Every reason to refuse one, with its threshold, in one table.

Detection and visibility stay high when feet are cut off or the view is wrong, so neither is
asked: limbs out of the picture are found by geometry at the picture's edge.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from shared.domain import Clip, Floats, Landmarks, RepSet, Track
from shared.exercise import Exercise
from shared.keypoints import INDEX
from vision.common.poses import torso
from vision.common.quantities import listed
from vision.judging.covered import Limb, is_covered
from vision.measuring.track.camera_yaw import (
    front_doubt_deg,
    in_space_off_deg,
    side_doubt_deg,
    side_off_deg,
)
from vision.measuring.track.filters import within
from vision.measuring.track.seat import beside_seat_share
from vision.seeing.subject import Subject


@dataclass(frozen=True)
class Problem:
    """Why a clip is not fit to judge: code, and the sentence that says how to film again."""

    code: str
    text: str


@dataclass(frozen=True)
class Thresholds:
    """Where a clip stops being fit. The measurement behind each stands in docs/fit-to-judge.md."""

    #: Median brightness of the subject's part of the picture, 0 to 255.
    dark_luma: float = 34.0
    #: Median edge strength over contrast; see ``sharpness``.
    blurred_sharpness: float = 0.12
    low_fps: float = 20.0
    short_s: float = 5.0
    #: Share of a repetition for which a needed limb may be out of the picture, or unseen.
    limb_share: float = 0.1
    #: A point this close to the picture's edge, as a share of its longer side, is out of it.
    edge_share: float = 0.006
    off_view_deg: float = 35.0
    #: Knees of somebody seated lie less than this under the hips in the picture, in trunk lengths.
    standing_drop: float = 0.70
    #: Share of the time between the person's first and last sight in which they could not be found.
    lost_share: float = 0.35
    #: Share of the time on the seat in which the body was read beside it.
    beside_share: float = 0.2
    #: Share of the set's looks in which the limb at the load lies elsewhere than its own picture moved to.
    strayed_share: float = 0.2


#: The person must be seen for most of so long before a repetition and after it, s.
END_SEEN_S = 0.4
#: A knee less visible than this is not asked where it lies.
KNEE_SEEN = 0.5
_KNEES, _HIPS = ([INDEX[f"{side}_{part}"] for side in ("left", "right")] for part in ("knee", "hip"))
THRESHOLDS = Thresholds()
#: Code of a clip in which the one who was followed is not on the machine: what they did is no set.
STANDING = "standing"
#: Code of a clip in which the one who was followed was mixed up with somebody else.
MIXED_UP = "mixed-up"
#: Code of a clip in which somebody stands before a limb.
COVERED = "limb-covered"
#: Code of a clip in which the limb at the load is guessed.
UNCLEAR = "limb-unclear"
#: Codes of clips in which what was followed is not the lifter's, or not all of it: it is not even listed.
NOT_THEIRS = (STANDING, MIXED_UP, COVERED, UNCLEAR)
#: What is followed at the load where the drive is the angle of this joint.
_AT_THE_LOAD = {"knee": "foot", "hip": "knee", "elbow": "hand"}
_TEXTS = {
    "too-dark": "The picture is too dark to see the limbs. Switch the lights on or film from the lit side.",
    "too-blurred": "The picture is too blurred. Wipe the lens, tap to focus, stand the phone somewhere firm.",
    "low-frame-rate": "The clip has {fps:.0f} frames a second; at least 20 are needed. Film at 30 or more.",
    "too-short": "The clip lasts {seconds:.1f} s; film the whole set from the first to the last repetition.",
    "no-person": (
        "Nobody was found who stays in one place. Film one person, head to feet, two to four metres away."
    ),
    "limb-out-of-picture": (
        "The {limbs} left the picture for part of the set. Move the phone back or turn it until all stays in."
    ),
    "limb-hidden": (
        "The {limbs} could not be seen for part of the set. Move the phone until nothing stands in front."
    ),
    COVERED: (
        "Somebody stood in front of the person on the machine. Ask them to step aside, or move the phone."
    ),
    UNCLEAR: (
        "The {limbs} can hardly be made out, so nothing can be judged. Turn on more light, bring the phone "
        "closer, and stand it on something firm."
    ),
    "wrong-view": (
        "The phone stood in the wrong place, {off:.0f} degrees off. Film straight from the {views}."
    ),
    STANDING: (
        "The person who was followed was standing, but this machine is used sitting down. Film so that "
        "nobody stands between the phone and the machine."
    ),
    MIXED_UP: (
        "The person could not be told apart from somebody close by or from a reflection, or the phone was "
        "moved. Film so that nobody else, and no mirror, shows right behind or beside them, and do not move "
        "the phone."
    ),
    "no-set": ("No set was found. Film the whole set, and check that it is the machine you named."),
}


def problem(code: str, **values: object) -> Problem:
    """A Problem with its sentence filled in."""
    return Problem(code, _TEXTS[code].format(**values))


def clip_problems(clip: Clip) -> list[Problem]:
    """Problems that the container alone shows."""
    out = []
    if clip.fps_mean < THRESHOLDS.low_fps:
        out.append(problem("low-frame-rate", fps=clip.fps_mean))
    if clip.duration_s < THRESHOLDS.short_s:
        out.append(problem("too-short", seconds=clip.duration_s))
    return out


def picture_problems(luma: float, sharp: float) -> list[Problem]:
    """Light and focus of the subject's part of the picture."""
    if luma < THRESHOLDS.dark_luma:
        return [problem("too-dark")]
    return [problem("too-blurred")] if sharp < THRESHOLDS.blurred_sharpness else []


def off_view_deg(track: Track, exercise: Exercise) -> float:
    """Degrees between the camera and the nearest accepted view."""
    return nearest_view_deg(abs(track.view.yaw_deg), side_off_deg(track), exercise)


def least_off_view_deg(track: Track, exercise: Exercise) -> float:
    """The same where the camera stands as near to a view as the estimate's error allows."""
    front = abs(track.view.yaw_deg)
    if track.view.is_side:
        return nearest_view_deg(front, side_off_deg(track) - side_doubt_deg(track), exercise)
    doubt = front_doubt_deg(track)
    return nearest_view_deg(
        front - doubt if front <= 90.0 else front + doubt, in_space_off_deg(track), exercise
    )


def nearest_view_deg(front_off: float, side_off: float, exercise: Exercise) -> float:
    """Degrees to the nearest accepted view of a camera so many degrees off the front and the side view."""
    off = {"side": side_off, "front": front_off, "rear": 180.0 - front_off}
    return min(off[v.name] for v in exercise.views)


def subject_problems(
    subject: Landmarks, track: Track, reps: RepSet | None, exercise: Exercise, among: Subject | None = None
) -> list[Problem]:
    """View and limbs over the set, or over the whole clip where no set was found.

    A limb that is lost in half of the repetitions or fewer costs those, and not the set. among: where the
    person was seen among others, if that is known.
    """
    out: list[Problem] = []
    if least_off_view_deg(track, exercise) > THRESHOLDS.off_view_deg:
        off, views = off_view_deg(track, exercise), " or ".join(v.name for v in exercise.views)
        return [problem("wrong-view", off=off, views=views)]
    if _lost_share(subject) > THRESHOLDS.lost_share:
        return [problem("limb-hidden", limbs="person")]
    if exercise.seated and _stands(subject, track, reps):
        return [problem(STANDING)]
    away, unseen = _away_and_unseen(subject, track, reps=reps, exercise=exercise)
    out += _lost_problem("limb-out-of-picture", away)
    if not out:
        out += _lost_problem("limb-hidden", [a + u for a, u in zip(away, unseen, strict=True)])
    if not out and among is not None:
        out += _covered_problems(among, track, reps, exercise)
    if reps is None and not out:
        out.append(problem("no-set"))
    return out


def mixed_up_problems(track: Track, exercise: Exercise) -> list[Problem]:
    """A problem where the one on a seat was mixed up with somebody beside it, in a careful look."""
    mixed = exercise.seated and beside_seat_share(track) > THRESHOLDS.beside_share
    return [problem(MIXED_UP)] if mixed else []


def unclear_problems(strayed: float, exercise: Exercise) -> list[Problem]:
    """A problem where the limb at the load is guessed in too many of the looks; strayed: in which share."""
    if strayed <= THRESHOLDS.strayed_share:
        return []
    return [problem(UNCLEAR, limbs=_AT_THE_LOAD[exercise.drive_joint or "elbow"])]


def may_show_in_another_look(problems: Iterable[Problem]) -> bool:
    """Whether a set would be refused for what was not seen, and may be seen in another look."""
    return any(problem.code in ("limb-hidden", MIXED_UP, UNCLEAR) for problem in problems)


def lost_limbs(
    subject: Landmarks, track: Track, reps: RepSet, exercise: Exercise
) -> dict[int, tuple[Limb, ...]]:
    """The limbs out of the picture or unseen for part of a repetition, by its number, where there are any."""
    both = zip(reps.reps, *_away_and_unseen(subject, track, reps=reps, exercise=exercise), strict=True)
    return {rep.number: tuple(dict.fromkeys(away + unseen)) for rep, away, unseen in both if away or unseen}


def _away_and_unseen(
    subject: Landmarks, track: Track, reps: RepSet | None, exercise: Exercise
) -> tuple[list[list[Limb]], list[list[Limb]]]:
    """Limbs out of the picture, and limbs unseen, in each repetition; in the clip where there is none."""
    spans = [(rep.start_s, rep.end_s) for rep in reps.reps] if reps else [(0.0, float(track.time_s[-1]))]
    needed, most = _needed(track, exercise), THRESHOLDS.limb_share
    away = [[n for n in needed if _out_share(subject, n[1], *span, track) > most] for span in spans]
    unseen = [[n for n in needed if _unknown_share(track, n[1], *span) > most] for span in spans]
    if reps is not None:
        lost = _lost(track)
        unseen = [
            list(needed) if _lost_beside(lost, track, *s) else u for u, s in zip(unseen, spans, strict=True)
        ]
    return away, unseen


def _lost_problem(code: str, lost: Sequence[Sequence[Limb]]) -> list[Problem]:
    """The problem where fewer than half of the repetitions can be told."""
    if sum(bool(limbs) for limbs in lost) * 2 <= len(lost):
        return []
    return [problem(code, limbs=listed(sorted({part for limbs in lost for part, _ in limbs})))]


def _covered_problems(among: Subject, track: Track, reps: RepSet | None, exercise: Exercise) -> list[Problem]:
    """A problem where somebody stands between the phone and a limb in most of the set."""
    needed = [limb for limb in _needed(track, exercise) if limb[0] not in exercise.may_hide]
    span = (reps.start_s, reps.end_s) if reps else (0.0, float(track.time_s[-1]))
    joint = exercise.drive_joint or "elbow"
    return [problem(COVERED)] if is_covered(among, needed, joint, *span) else []


def _lost_share(subject: Landmarks) -> float:
    known = np.flatnonzero(~np.isnan(subject.image_px[:, 0, 0, 0]))
    return 1.0 - len(known) / float(known[-1] - known[0] + 1)


def _stands(subject: Landmarks, track: Track, reps: RepSet | None) -> bool:
    """Whether the knees that are seen lie far under the hips in most of the set; False where few are seen."""
    span = (reps.start_s, reps.end_s) if reps else (0.0, float(track.time_s[-1]))
    inside = within(subject.time_s, *span)
    height = subject.image_px[inside, 0, :, 1]
    seen = subject.visibility[inside, 0][:, _KNEES] > KNEE_SEEN
    seen &= height[:, _KNEES] < track.picture[1]
    trunk_px = float(np.nanmedian(torso(subject.image_px[inside, 0])[1])) if seen.any() else track.trunk_px
    drop = np.where(seen, height[:, _KNEES] - height[:, _HIPS], np.nan) / trunk_px
    known = drop[~np.isnan(drop)]
    mostly_seen = seen.any(axis=1).sum() * 2 > len(seen)
    return bool(mostly_seen and np.median(known) > THRESHOLDS.standing_drop)


def _needed(track: Track, exercise: Exercise) -> list[Limb]:
    """(part, keypoint) that the exercise needs: the near side in side views, else both."""
    sides = (track.near,) if track.view.is_side else ("left", "right")
    return [(part, f"{side}_{part}") for part in exercise.limbs for side in sides]


def _out_share(subject: Landmarks, name: str, start: float, end: float, track: Track) -> float:
    """Share of the looked-at frames of the set in which a point lies at or past the picture's edge."""
    inside = within(subject.time_s, start, end)
    xy: Floats = subject.image_px[inside, 0, INDEX[name], :2]
    xy = xy[~np.isnan(xy).any(axis=-1)]
    if not len(xy):
        return 0.0
    edge = THRESHOLDS.edge_share * max(track.picture)
    width, height = track.picture
    out = (xy < edge).any(axis=-1) | (xy[:, 0] > width - edge) | (xy[:, 1] > height - edge)
    return float(out.mean())


def _unknown_share(track: Track, name: str, start: float, end: float) -> float:
    inside = within(track.time_s, start, end)
    return float(np.isnan(track.xy(name)[inside, 0]).mean())


def _lost(track: Track) -> np.ndarray:
    """At which moments (T,) the near hip and shoulder are not known."""
    hip, shoulder = (track.xy(f"{track.near}_{part}")[:, 0] for part in ("hip", "shoulder"))
    return np.asarray(np.isnan(hip) & np.isnan(shoulder))


def _lost_beside(lost: np.ndarray, track: Track, start: float, end: float) -> bool:
    """Whether the person was mostly lost beside a repetition, so that nobody knows how far it went."""
    beside = (start - END_SEEN_S, start), (end, end + END_SEEN_S)
    around = [within(track.time_s, *span) for span in beside]
    return any(lost[part].sum() * 2 > part.stop - part.start for part in around)
