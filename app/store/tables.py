"""All tables of the store: whoever goes through them, to copy, erase or compare, takes ``Base`` from here."""

from __future__ import annotations

from app.store import found_tables, load_answers, models, records, studio_tables, tellings
from app.store.base import Base as Base

#: The modules that hold tables; one that is forgotten here would be neither erased nor backed up.
HOLDERS = (found_tables, load_answers, models, records, studio_tables, tellings)
