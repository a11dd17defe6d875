"""What every test leaves as it found it, and the databases that are made once a process."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import pytest

from tests.databases import migrated, postgres  # noqa: F401


@pytest.fixture(autouse=True)
def _own_main() -> Iterator[None]:
    """Streamlit's script runner puts the page in the place of ``__main__``, which new processes load anew."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
