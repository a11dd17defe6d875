"""The names of states as the store keeps them: one list of each, so that a typing error is told."""

from __future__ import annotations

from typing import Final, Literal

Role = Literal["trainer", "member"]
SetStatus = Literal["checking", "checked", "unfit", "failed", "no-clip"]
Feeling = Literal["easy", "right", "hard", "could-not-finish"]
DecisionKind = Literal["agree", "reword", "no-fault", "added", "withdrawn", "note"]
JobState = Literal["queued", "running", "done", "failed"]
#: A telling of pain without a clip: it lies among the sets and is none.
PAIN_ALONE: Final = "no-clip"
