"""landmarks -> track -> signals -> repetitions: all that is measured of one person in a clip."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from shared.domain import Clip, Floats, Landmarks, RepSet, Signal, Signals, Track, ViewName
from shared.exercise import Exercise
from shared.keypoints import Side
from shared.places import Sight
from vision.measuring.learnt.unusual_range import less_sure
from vision.measuring.machine.pivot import DEPTH_CM
from vision.measuring.machine.shown import Machine, read_machine
from vision.measuring.reps.by_flow import LimbPath, by_flow, limb_path
from vision.measuring.reps.cut_ends import cut_ends
from vision.measuring.reps.find_set import find_set
from vision.measuring.reps.membership import load_ends
from vision.measuring.reps.phase_correction import (
    PhaseCorrection,
    by_limb,
    load_phase_correction,
    uncorrected,
)
from vision.measuring.reps.strangers import told_left_out
from vision.measuring.reps.trembling import less_steady, told_unsteady, unsteadiness
from vision.measuring.reps.unseen import without_unseen_rests
from vision.measuring.signals.signal import SignalFn, compute_signals, view_word
from vision.measuring.track.build import build_track
from vision.measuring.track.seat import on_seat
from vision.measuring.track.straying import strayed_share
from vision.seeing.camera import CameraPath
from vision.seeing.flow import LimbFlow
from vision.seeing.marks import Marks

#: Over this window a person who keeps their place drifts less than half a trunk length.
STAY_WINDOW_S = 2.0
FLOW_TOLD = "start and end of lifts and lowers by the limb's optical flow, where it agrees with the landmarks"


@dataclass(frozen=True, kw_only=True)
class Measured:
    """What was measured of the subject, one slot; track None where nobody could be followed.

    tracks: the track that gave each signal; stays (T,): 1 where the person keeps their place, 0 or NaN (not
    known); strayed: the share of looks in which the limb at the load is elsewhere than its flow leads; notes:
    that the clip begins or ends inside a repetition, that a movement was left out, that the picture trembles,
    or that the joint's range is unusual.
    """

    subject: Landmarks
    track: Track | None = None
    tracks: Mapping[str, Track] = field(default_factory=dict)
    signals: Signals = field(default_factory=dict)
    stays: Floats = field(default_factory=lambda: np.empty(0))
    reps: RepSet | None = None
    machine: Machine | None = None
    strayed: float = 0.0
    notes: tuple[str, ...] = ()

    @property
    def view(self) -> ViewName | None:
        """From where it was filmed; None where nobody could be followed."""
        return self.track.view.name if self.track is not None else None

    @property
    def shown(self) -> Side | None:
        """The side that the clip shows; None from the front or the back, where both count as one."""
        return self.track.near if self.track is not None and self.track.view.is_side else None


def measure(
    subject: Landmarks,
    clip: Clip,
    exercise: Exercise,
    plan: Mapping[str, tuple[SignalFn, Any]],
    *,
    marks: Marks,
    side: Side | None = None,
    height_cm: float | None = None,
    usual_range: Callable[[ViewName], float | None] = lambda view: None,
    pivot_depth_cm: float = DEPTH_CM,
    sights: Sequence[Sight] = (),
    raw: bool = False,
    flow: LimbFlow | None = None,
    camera: CameraPath | None = None,
) -> Measured:
    """Everything measured of the person whose landmarks these are.

    plan: the signals of the definition, bound. usual_range: the member's own (drive units), for a view.
    sights: where parts of the machine lie against its board. raw: leave out learnt corrections. flow: how the
    limbs moved from picture to picture, for when phases begin and end. camera: how it moved, None where it
    stood or nobody knows.
    """

    def tracked(may_hide: tuple[str, ...]) -> Track | None:
        return build_track(
            subject, clip, limbs=exercise.limbs, side=side, height_cm=height_cm, may_hide=may_hide,
            camera=camera,
        )  # fmt: skip

    track = tracked(exercise.may_hide)
    if track is None:
        return Measured(subject=subject)
    tracks = _tracks(track, exercise)
    signals = _signals(tracks, plan, exercise=exercise, raw=raw)
    still, name, usual = stays(track), exercise.drive.signal, usual_range(track.view.name)

    def guessed() -> Floats | None:
        everything = tracked(exercise.limbs)
        if everything is None:
            return None
        return compute_signals(everything, {name: plan[name]}, exercise=exercise, keep_raw=raw)[name].values

    path = limb_path(flow, track, exercise)
    track, correct = _with_moments(track, exercise, drive=signals[name].values, path=path, raw=raw)
    drive, reps = find_set(
        track, still, drive=signals[name], spec=exercise.drive, usual=usual, correct=correct,
        guessed=guessed, by_joint=exercise.drive_joint is not None,
    )  # fmt: skip
    notes: list[str] = []
    if reps is not None:
        reps, signals[name], notes = _as_surely(
            signals[name], drive, reps, path, track=track, exercise=exercise, usual=usual, raw=raw,
        )  # fmt: skip
    ends = _followed_ends(drive, exercise)
    strayed = strayed_share(subject, flow, camera, track=track, reps=reps, ends=ends)
    machine = read_machine(
        marks, track, signals=signals, exercise=exercise, reps=reps, pivot_depth_cm=pivot_depth_cm,
        sights=sights,
    )  # fmt: skip
    return Measured(
        subject=subject, track=track, tracks=tracks, signals=signals, stays=still, reps=reps, machine=machine,
        strayed=strayed, notes=tuple(notes),
    )  # fmt: skip


def _as_surely(
    drive: Signal, of_the_set: Signal, reps: RepSet, path: LimbPath | None, *, track: Track,
    exercise: Exercise, usual: float | None, raw: bool,
) -> tuple[RepSet, Signal, list[str]]:  # fmt: skip
    """The set and its drive as sure as picture and range allow, and what to say of them.

    of_the_set: the drive, NaN where the body does not belong to the set.
    """
    reps, notes = without_unseen_rests(reps, drive)
    reps = replace(reps, unsteady=unsteadiness(path, reps))
    drive = less_steady(drive, reps)
    notes += cut_ends(of_the_set, reps, exercise.drive.lift == "rising")
    notes += told_left_out(reps) + told_unsteady(reps)
    if raw:
        return reps, drive, notes
    drive, unusual = less_sure(drive, reps, exercise, view_word(track), own_range=usual)
    return reps, drive, notes + unusual


def _followed_ends(drive: Signal, exercise: Exercise) -> tuple[str, ...]:
    """The points at the load that are followed by flow: none where the drive is no joint's angle."""
    return () if exercise.drive_joint is None else load_ends(drive.points)


def _with_moments(
    track: Track, exercise: Exercise, drive: Floats, path: LimbPath | None, raw: bool
) -> tuple[Track, PhaseCorrection]:
    """The track, and what moves the moments found in its drive (T,): the limb, or its path by flow if any."""
    learnt = uncorrected if raw else load_phase_correction(exercise.name)
    correct = by_limb(track, exercise, drive=drive, learnt=learnt)
    if path is None:
        return track, correct
    return replace(track, log=(*track.log, FLOW_TOLD)), by_flow(path, exercise, told=correct)


def _tracks(track: Track, exercise: Exercise) -> dict[str, Track]:
    """The track that gives each signal: on the seat where the thighs lie there, but for the drive.

    The drive is corrected as it is seen.
    """
    posture = on_seat(track) if exercise.thighs_on_seat else track
    return {name: track if name == exercise.drive.signal else posture for name in exercise.signals}


def _signals(
    tracks: Mapping[str, Track], plan: Mapping[str, tuple[SignalFn, Any]], exercise: Exercise, raw: bool
) -> dict[str, Signal]:
    found: dict[str, Signal] = {}
    for name, bound in plan.items():
        found |= compute_signals(tracks[name], {name: bound}, exercise=exercise, keep_raw=raw)
    return found


def stays(track: Track) -> Floats:
    """Whether the near side of the trunk keeps its place about each moment, (T,): 1 or 0, NaN not known.

    Hip and shoulder, or the one of them that is known, drift by less than half a trunk length over two
    seconds. While the camera's own motion is not known it is taken to stand.
    """
    half = int(STAY_WINDOW_S * track.rate_hz / 2)
    rows = np.arange(len(track.time_s))
    before, after = np.maximum(rows - half, 0), np.minimum(rows + half, rows[-1])
    hip, shoulder = (
        place[after] - place[before]
        for place in (track.xy(f"{track.near}_{part}") for part in ("hip", "shoulder"))
    )
    both = np.where(np.isnan(hip), shoulder, np.where(np.isnan(shoulder), hip, (hip + shoulder) / 2))
    drift = np.linalg.norm(both, axis=-1)
    return np.where(np.isnan(drift), np.nan, drift < 0.5 * track.trunk_px)
