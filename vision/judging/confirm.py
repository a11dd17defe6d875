"""A second look, at the same pictures mirrored, which the landmark model reads anew.

Now and then the model changes its mind within a set and sees a joint a hand's breadth elsewhere. In the
mirror image it does not do so at the same moments, so the mean of both looks is nearer to the truth, and
a flag that either of them does not show is doubtful.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from shared.domain import Floats, Landmarks, Rep
from shared.faults import is_grave
from shared.keypoints import INDEX
from shared.report import FindingPart
from vision.common.between import at_moments
from vision.common.poses import torso
from vision.measuring.slips import without_slips

LOOKED_AGAIN = "looked at again in mirrored pictures, mean of both looks"
ONE_OF_TWO = "looked at again in mirrored pictures, one look alone told: the mean of both lost something"
#: Of 23 rendered sets that two looks counted differently 10 were counted wrong, of 106 others 10.
OTHER_COUNT = "Check the count against the clip: another look at it counted {others}."
NOT_CONFIRMED = "seen in one of two looks at the clip only"
#: Two looks at one person agree when their points lie this near to each other, in trunk lengths (median).
AGREE_TRUNKS = 0.25
#: Of two looks that do not agree one is off the seat if its hips lie so much farther from it, trunk lengths.
CLEARLY_TRUNKS = 0.1
_HIPS = [INDEX[f"{side}_hip"] for side in ("left", "right")]
#: The next look is no further away than this, s; where it was missed the other look alone tells.
NEXT_LOOK_S = 0.3


def worth_another_look(findings: Iterable[FindingPart]) -> bool:
    """Whether a flag, or a grave fault in doubt, has a moment to look at; count and tempo alone have none."""
    return any(
        f.time_s is not None and (f.verdict == "flag" or (f.verdict == "watch" and is_grave(f.check)))
        for f in findings
    )


def mean_of_looks(first: Landmarks, second: Landmarks, seated: bool = True) -> Landmarks:
    """The mean of two looks at one person, at the moments of both, without the slips of either.

    Between its own moments a look goes straight on. Where they do not agree the first stands, unless its hips
    leave the seat (seated: there is one) and the other's do not; what one of them did not see, or read
    elsewhere, the other tells.
    """
    frame, at = np.unique(np.concatenate([first.frame, second.frame]), return_index=True)
    time_s = np.concatenate([first.time_s, second.time_s])[at]
    ours, theirs = (at_moments(without_slips(look), frame, time_s, NEXT_LOOK_S) for look in (first, second))
    agree = _apart(ours.image_px[..., :2], theirs.image_px[..., :2]) < AGREE_TRUNKS
    unseen = np.isnan(ours.image_px[..., 0])
    from_other = unseen & (agree | unseen.all(axis=-1))[..., None]
    from_other |= (seated & ~agree & _off_the_seat(ours.image_px, theirs.image_px, agree))[..., None]

    def both(mine: Floats, other: Floats) -> Floats:
        out = mine.copy()
        out[agree] = (mine[agree] + np.where(np.isnan(other), mine, other)[agree]) / 2.0
        out[from_other] = other[from_other]
        return out

    names = ("image_px", "world_m", "visibility", "presence")
    arrays = {name: both(getattr(ours, name), getattr(theirs, name)) for name in names}
    return Landmarks(frame=frame, time_s=time_s, model=f"{first.model}, mirrored too", **arrays)


def _off_the_seat(ours: Floats, theirs: Floats, agree: np.ndarray) -> np.ndarray:
    """Where our hips lie farther from their usual place than the other look's, clearly, (N, P).

    A body that is read turned round, or beside itself, leaves the seat; a chest that drops does not.
    agree (N, P): the moments that tell the usual place.
    """
    hips = [look[..., _HIPS, :2] for look in (ours, theirs)]
    both = np.where(agree[..., None, None], (hips[0] + hips[1]) / 2.0, np.nan)
    known = np.isfinite(both).any(axis=(0, 2, 3))
    usual = np.full(both.shape[1:], np.nan)
    usual[known] = np.nanmedian(both[:, known], axis=0)
    off, their_off = (np.linalg.norm(hip - usual, axis=-1).mean(axis=-1) / torso(ours)[1] for hip in hips)
    with np.errstate(invalid="ignore"):
        return np.asarray(their_off + CLEARLY_TRUNKS < off)


def _apart(ours: Floats, theirs: Floats) -> Floats:
    """Median trunk lengths between the points that both looks know, (N, P); NaN where they share none."""
    apart = np.linalg.norm(ours - theirs, axis=-1)
    known = ~np.isnan(apart)
    ordered, middle = np.sort(apart, axis=-1), np.maximum(known.sum(axis=-1) - 1, 0) // 2
    median = np.take_along_axis(ordered, middle[..., None], axis=-1)[..., 0]
    with np.errstate(invalid="ignore"):
        return np.asarray(median / torso(ours)[1])


@dataclass(frozen=True)
class Look:
    """What one look gave: its findings and its repetitions."""

    findings: Sequence[FindingPart]
    reps: Sequence[Rep]

    @property
    def count(self) -> int:
        """Full repetitions."""
        return sum(not rep.partial for rep in self.reps)


def loses_repetitions(both: Look, alone: Sequence[Look]) -> bool:
    """Whether the mean of two looks counts fewer than each of them: they read the limbs apart there."""
    return both.count < min((look.count for look in alone if look.reps), default=0)


def other_counts(kept: Look, alone: Sequence[Look]) -> list[str]:
    """What to say of a set of which the looks do not count the same."""
    others = sorted({look.count for look in alone if look.reps} - {kept.count})
    return [OTHER_COUNT.format(others=" or ".join(map(str, others)))] if others and kept.reps else []


def confirmed(both: Look, alone: Iterable[Look]) -> tuple[FindingPart, ...]:
    """The findings with those flags on "watch" that a look by itself finds clear at the same repetition.

    Where a look could not judge, a flag stands.
    """
    clear = [_clear(both, look) for look in alone]

    def doubted(finding: FindingPart) -> bool:
        return finding.verdict == "flag" and any((finding.check, finding.rep) in c for c in clear)

    on_watch = {"verdict": "watch", "prompt": None, "reason": NOT_CONFIRMED}
    return tuple(f.model_copy(update=on_watch) if doubted(f) else f for f in both.findings)


def _clear(both: Look, look: Look) -> set[tuple[str, int | None]]:
    """Check and repetition, as both looks together number them, of what one look finds clear."""
    clear = {(f.check, f.rep) for f in look.findings if f.verdict == "clear"}
    same = {rep.number: _same(rep, look.reps) for rep in both.reps}
    found = {(check, number) for number, there in same.items() for check, rep in clear if rep == there}
    return found | {(check, None) for check, rep in clear if rep is None}


def _same(rep: Rep, reps: Sequence[Rep]) -> int:
    """The number of the repetition during which this one reaches its lift end; 0 for none."""
    middle = (rep.turn_s + rep.lower_start_s) / 2
    return next((other.number for other in reps if other.start_s <= middle <= other.end_s), 0)
