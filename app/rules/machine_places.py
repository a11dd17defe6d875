"""Where parts of a machine lie from its frame board: what a studio keeps of it, and for whom it holds.

A pad or a seat that people move to fit themselves lies elsewhere for each: its place holds only for the
setting with which it was marked, and for nobody whose card does not say theirs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from shared.exercise import Exercise, Setting
from shared.places import Sight, StillPart

#: The setting that moves a part, on machines that have it.
MOVED_BY: Mapping[StillPart, Setting] = {"pad": "back_pad", "pad_end": "back_pad", "seat": "seat"}
#: So many of the newest clips are kept of each part at one setting.
MOST = 4

Kept = dict[str, Any]
Settings = Mapping[str, str]


def kept_places(
    before: Sequence[Kept], sights: Iterable[Sight], set_id: int, exercise: Exercise, settings: Settings
) -> list[Kept]:
    """What is kept of a machine, oldest first, with what a marked set tells in place of what it told before.

    settings: of the member's card.
    """
    kept = [one for one in before if one["set_id"] != set_id]
    for sight in sights:
        setting = _setting(sight.name, exercise, settings)
        if setting is None:
            continue
        alike = [one for one in kept if (one["name"], one["setting"]) == (sight.name, setting)]
        for old in alike[: 1 - MOST]:
            kept.remove(old)
        kept.append({**sight.model_dump(), "set_id": set_id, "setting": setting})
    return kept


def places_for(kept: Sequence[Kept], exercise: Exercise, settings: Settings) -> tuple[Sight, ...]:
    """What holds for a member whose card says these settings, oldest first."""
    found = [Sight.model_validate(one) for one in kept]
    holds = [_setting(sight.name, exercise, settings) for sight in found]
    return tuple(
        sight for sight, one, setting in zip(found, kept, holds, strict=True) if one["setting"] == setting
    )


def _setting(name: StillPart, exercise: Exercise, settings: Settings) -> str | None:
    """What a part is set to: empty where nothing moves it, None where that is not known."""
    moved_by = MOVED_BY.get(name)
    if moved_by is None or moved_by not in exercise.settings:
        return ""
    return settings.get(moved_by, "").strip() or None
