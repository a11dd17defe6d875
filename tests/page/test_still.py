"""The still before the set: what the page says of it, and a process that dies is replaced."""

from __future__ import annotations

import ctypes
import runpy
import sys
from typing import Any

import pytest

from app.page import still
from shared.errors import ClipError, InternalError
from tests.page.screens import MAIN, Open, click, read, sound
from tests.store.conftest import Studio


class _Child:
    """Answers with the given, or dies."""

    def __init__(self, answer: Any):
        self.answer, self.ended = answer, False

    def ask(self, *_: Any) -> Any:
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    def end(self) -> None:
        self.ended = True


def test_a_process_that_died_is_replaced_for_the_next_picture(monkeypatch: pytest.MonkeyPatch) -> None:
    first = _Child(InternalError("gone"))
    children = iter([first, _Child(["Too dark."])])
    monkeypatch.setattr(still, "Child", lambda: next(children))
    looking = still.Stills()
    with pytest.raises(InternalError, match="film as drawn"):
        looking.look(b"", "leg-curl")
    assert first.ended and looking.look(b"", "leg-curl") == ["Too dark."]


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        ([], "The framing will do."),
        (["The picture is too dark."], "The picture is too dark."),
        (ClipError("This is no picture that can be read."), "no picture that can be read"),
    ],
)
def test_a_member_is_told_before_filming(
    studio: Studio,
    open_page: Open,
    monkeypatch: pytest.MonkeyPatch,
    answer: Any,
    said: str,
) -> None:
    monkeypatch.setattr(still, "Child", lambda: _Child(answer))
    looking = still.Stills()
    monkeypatch.setattr(still, "stills", lambda: looking)
    page = open_page(studio.ilse, "film")
    page.button_group[0].set_value("No").run()
    click(page, "Leg extension")
    assert said not in read(page)
    page = sound(page.file_uploader[0].upload("photo.jpg", b"x", "image/jpeg").run())
    assert said in read(page)


def test_a_process_started_from_the_page_does_not_run_the_page() -> None:
    """It loads the page's file under another name, as the standard library's ``spawn`` does."""
    assert callable(runpy.run_path(str(MAIN), run_name="__mp_main__")["main"])


def hangs(*_: Any) -> list[str]:
    ctypes.PyDLL(None).pause()  # holds the interpreter's lock, as native code may
    return []


@pytest.mark.skipif(sys.platform != "linux", reason="needs a call that waits for ever")
def test_a_picture_that_hangs_its_reader_ends_that_process(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(still, "look", hangs)
    monkeypatch.setattr(still, "LONGEST_S", 0.5)
    looking = still.Stills()
    with pytest.raises(InternalError, match="film as drawn"):
        looking.look(b"", "leg-curl")
    assert looking._child is None
