"""A clip while it is still being sent: what has arrived is surveyed, stretch by stretch.

Told before the end is only what the rest of the clip cannot mend; with its last byte a survey of the whole is
there, and so are the first words of the set. The careful look then looks for itself.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from shared.domain import Frame, Landmarks
from shared.errors import ClipError
from shared.exercise import Exercise
from vision.common.seams import FrameSource, PoseEstimator
from vision.judging.bind import bind
from vision.judging.options import Options
from vision.judging.quality import lost_limbs
from vision.pipeline import judge_seen
from vision.seeing.clip import ClipSource, open_clip
from vision.seeing.look import WARM_UP_S, Seen, joined, survey_clip
from vision.seeing.subject import find_subject
from vision.seeing.survey_as_look import as_close_look
from vision.telling.analysis import Analysis
from vision.telling.first_look import FirstLook

#: What has arrived is read in stretches of so many s; each is judged by itself as well.
STRETCH_S = 6.0
#: The last so many s of what has arrived wait for what comes: their pictures may be built on it.
EDGE_S = 1.0
#: What is missing may last so many times longer than its bytes tell: a still picture takes fewer.
SLACK = 2.0
#: More than so many s unread when all is here are left to the check itself, which reads both halves at once.
MOST_LEFT_S = 12.0
#: What spoils a clip that shows it for more than half of its length. Not nobody: who comes for the last third
#: and lifts makes a set; nor a hidden limb: the careful look's model sees some that a survey's does not.
_LIMB = "limb-out-of-picture"
_LASTING = ("too-dark", "too-blurred", "wrong-view", _LIMB)


class Coming:
    """What is known of one clip of one set so far. Raises as ``vision.pipeline.analyse`` does."""

    def __init__(self, exercise: Exercise, pose: PoseEstimator):
        bind(exercise)
        self._exercise, self._pose = exercise, pose
        self._stretches: list[Seen] = []
        self._against = Counter[str]()
        self._until_s = 0.0

    def read_on(self, path: Path, share: float) -> tuple[str, ...]:
        """Read what is new, and tell what stands against the clip whatever is still to come, in sentences.

        share: of the clip's bytes that are here, over 0.
        """
        try:
            source = open_clip(path, coming=True)
        except ClipError:
            return ()  # too little of it is here yet
        here_s = source.clip.duration_s
        while here_s - EDGE_S - self._until_s >= STRETCH_S:
            self._read(source, self._until_s + STRETCH_S)
        return self._certain(source, here_s + SLACK * here_s * (1 / share - 1))

    def whole(self, path: Path) -> FirstLook | None:
        """The first words of the set, once all is here; None where too much of it was not read before."""
        source = open_clip(path)
        if source.clip.duration_s - self._until_s > MOST_LEFT_S or not self._stretches:
            return None
        while self._until_s < source.clip.duration_s:
            self._read(source, min(self._until_s + STRETCH_S, source.clip.duration_s))
        return FirstLook.of(self._judged(source).report, self._exercise.motion)

    def _read(self, source: ClipSource, end_s: float) -> None:
        """Survey the next stretch, and judge it as if it were a clip."""
        part = _Part(source, max(0.0, self._until_s - WARM_UP_S), end_s)
        seen = survey_clip(part, self._pose, threads=1)
        analysis = judge_seen(as_close_look(seen) or seen, self._exercise, Options())
        self._against.update({problem.code for problem in analysis.report.quality.problems})
        survey = replace(seen.survey, time_s=seen.survey.time_s + part.start_s)
        self._stretches.append(replace(seen, survey=survey))
        self._until_s = end_s

    def _judged(self, source: FrameSource) -> Analysis:
        """All that was read so far, as one clip."""
        survey = self._survey()
        luma, sharpness = np.median([(seen.luma, seen.sharpness) for seen in self._stretches], axis=0)
        seen = Seen(
            clip=source.clip, luma=float(luma), sharpness=float(sharpness), survey=survey,
            subject=find_subject(survey, source.clip), dense=None, model=self._pose.name,
        )  # fmt: skip
        return judge_seen(as_close_look(seen) or seen, self._exercise, Options())

    def _survey(self) -> Landmarks:
        whole, *later = (seen.survey for seen in self._stretches)
        for survey in later:
            whole = joined(whole, survey)
        return whole

    def _certain(self, source: FrameSource, total_s: float) -> tuple[str, ...]:
        """Problems of the clip so far that show in more stretches than the rest could make up for."""
        if not any(self._spoilt(code, total_s) for code in self._against):
            return ()
        analysis = self._judged(source)
        return tuple(
            problem.text
            for problem in analysis.report.quality.problems
            if self._spoilt(problem.code, total_s)
            and not (problem.code == _LIMB and self._mended(analysis, total_s))
        )

    def _spoilt(self, code: str, total_s: float) -> bool:
        """Whether a problem shows for more than half of the whole clip, whatever is still to come."""
        return code in _LASTING and self._against[code] * STRETCH_S > total_s / 2

    def _mended(self, analysis: Analysis, total_s: float) -> bool:
        """Whether repetitions to come could outnumber those in which a limb was lost."""
        track, reps = analysis.track, analysis.reps
        if track is None or reps is None:
            return False
        lost = lost_limbs(analysis.subject, track, reps, self._exercise)
        each_s = (reps.end_s - reps.start_s) / len(reps.reps)
        to_come = (total_s - self._until_s) / each_s
        return 2 * len(lost) <= len(reps.reps) + to_come


class _Part:
    """A stretch of a clip as a clip of its own, whose times begin at 0."""

    def __init__(self, source: ClipSource, start_s: float, end_s: float):
        self.start_s, self._source, self._end_s = start_s, source, end_s
        self.clip = replace(source.clip, duration_s=end_s - start_s)

    def frames(
        self, start_s: float = 0.0, end_s: float | None = None, min_step_s: float = 0.0, gray: bool = False
    ) -> Iterator[Frame]:
        """See ``vision.common.seams.FrameSource``."""
        last_s = self._end_s if end_s is None else self.start_s + end_s
        for frame in self._source.frames(self.start_s + start_s, last_s, min_step_s, gray):
            yield replace(frame, time_s=frame.time_s - self.start_s)
