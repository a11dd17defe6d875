"""Members of one name told apart where a name is chosen: they were added before this was refused."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from app.rules.words import day_words, name_key
from app.store.queries import MemberLine


def told_apart(members: Sequence[MemberLine], today: date) -> dict[int, str]:
    """``Wenna (1 of 2, last set yesterday)``: by number, in their order; who has a name alone keeps it."""
    alike = defaultdict(list)
    for one in sorted(members, key=lambda m: m.id):
        alike[name_key(one.name)].append(one.id)
    return {m.id: _label(m, alike[name_key(m.name)], today) for m in members}


def _label(member: MemberLine, alike: Sequence[int], today: date) -> str:
    if len(alike) == 1:
        return member.name
    last = f"last set {day_words(member.last_set, today)}" if member.last_set else "no set yet"
    return f"{member.name} ({alike.index(member.id) + 1} of {len(alike)}, {last})"
