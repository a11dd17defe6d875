"""Every failure as one sentence and an exit code."""

from __future__ import annotations

import os
import re
from collections.abc import Callable
from typing import TypeVar

from shared.errors import InternalError, PlumbsetError, UsageError

EXIT_OK, EXIT_OURS, EXIT_UNFIT, EXIT_STOPPED = 0, 1, 3, 130
DEBUG = "PLUMBSET_DEBUG"
INSTALL = "apt-get install libgl1 libegl1 libgles2 libglib2.0-0"
#: The extra in pyproject.toml that brings a module; all other modules come with Plumbset itself.
EXTRAS = {
    "alembic": "app", "argon2": "app", "sqlalchemy": "app", "starlette": "app", "streamlit": "app",
    "weasyprint": "app", "cryptography": "app", "segno": "app", "authlib": "oidc", "fsspec": "remote",
    "distributed": "cluster",
}  # fmt: skip
T = TypeVar("T")


def sentence_of(error: Exception) -> tuple[str, int]:
    """What to tell a person, and the exit code."""
    if isinstance(error, PlumbsetError):
        return str(error), error.exit_code
    module = (error.name or "").partition(".")[0] if isinstance(error, ModuleNotFoundError) else ""
    if module in EXTRAS:
        return sentence_of(missing_extra(module))
    if hasattr(error, "format_message") and hasattr(error, "exit_code"):
        return " ".join(error.format_message().split()), int(error.exit_code)
    library = (
        re.search(r"(lib[\w+.-]+?\.so[.\d]*)", str(error))
        if isinstance(error, ImportError | OSError)
        else None
    )
    if library:
        return f"The system library {library[1]} is missing; install it with: sudo {INSTALL}", EXIT_OURS
    return (
        f"Something went wrong on our side ({type(error).__name__}); your clip is untouched. "
        f"Set {DEBUG}=1 and run again to see details.",
        EXIT_OURS,
    )


def missing_extra(module: str) -> UsageError:
    """The error for a module of ``EXTRAS`` that is not installed: which extra brings it."""
    extra = EXTRAS[module]
    return UsageError(
        f"The package {module} is missing; in Plumbset's folder install the extra {extra}: "
        f'pip install ".[{extra}]"'
    )


def in_words(work: Callable[[], T]) -> T:
    """What ``work`` returns; an error that has no sentence gets one, so that it passes between processes.

    Raises
    ------
    PlumbsetError : for every error but MemoryError, which whoever set the limit knows better.
    """
    try:
        return work()
    except (PlumbsetError, MemoryError):
        raise
    except Exception as error:
        if os.environ.get(DEBUG):
            raise
        raise InternalError(sentence_of(error)[0]) from error
