"""Clips and pictures at an fsspec URL: kept there, fetched when needed, never half."""

from __future__ import annotations

import io
import pickle
import uuid
from pathlib import Path

import pytest

from app.store.files import Files
from app.store.remote import RemoteFiles, files_of
from app.store.settings import StoreSettings, store_settings
from shared.errors import InternalError, UsageError

fsspec = pytest.importorskip("fsspec", reason="fsspec is not installed: make setup")


@pytest.fixture(params=["memory", "file"])
def url(request: pytest.FixtureRequest, tmp_path: Path) -> str:
    place = f"/{uuid.uuid4().hex}/clips" if request.param == "memory" else f"{tmp_path}/there/clips"
    return f"{request.param}://{place}"


@pytest.fixture
def two(url: str, tmp_path: Path) -> tuple[Files, Files]:
    """Two machines with one store."""
    return RemoteFiles(url, tmp_path / "one"), RemoteFiles(url, tmp_path / "two")


def test_what_one_machine_kept_the_other_reads(two: tuple[Files, Files]) -> None:
    here, there = two
    address = here.keep(io.BytesIO(b"clip"))
    assert here.keep(io.BytesIO(b"clip")) == address == Files(here.folder).keep(io.BytesIO(b"clip"))
    assert there.there(address) and there.sound(address) and list(there.addresses()) == [address]
    assert not Files(there.folder).there(address)
    assert there.path(address).read_bytes() == b"clip" and Files(there.folder).there(address)


def test_the_folder_is_a_cache_that_may_be_emptied(two: tuple[Files, Files]) -> None:
    here, _ = two
    address = here.keep(io.BytesIO(b"clip"))
    Files(here.folder).drop(address)
    assert here.path(address).read_bytes() == b"clip"


def test_what_is_dropped_is_gone_for_everyone(two: tuple[Files, Files]) -> None:
    here, there = two
    address = here.keep(io.BytesIO(b"clip"))
    here.drop(address)
    here.drop(address)
    assert not there.there(address) and not there.sound(address) and list(there.addresses()) == []
    with pytest.raises(InternalError, match="missing"):
        there.path(address)


def test_damaged_content_is_never_taken_for_whole(two: tuple[Files, Files], url: str) -> None:
    here, there = two
    address = here.keep(io.BytesIO(b"clip"))
    with fsspec.open(f"{url}/{address[:2]}/{address}", "wb") as out:
        out.write(b"cli")
    assert not there.sound(address)
    with pytest.raises(InternalError, match="missing"):
        there.path(address)
    assert list(there.folder.glob(".part-*")) == []


def test_a_store_that_does_not_take_the_file_is_one_sentence(
    two: tuple[Files, Files], monkeypatch: pytest.MonkeyPatch
) -> None:
    here, _ = two

    def broken(*_: object, **__: object) -> None:
        raise RuntimeError("quota")

    monkeypatch.setattr(type(here._place_of[0]), "put_file", broken)  # type: ignore[attr-defined]
    monkeypatch.setattr("app.store.remote._wait", lambda seconds: None)
    with pytest.raises(UsageError, match="could not be kept in the studio's store"):
        here.keep(io.BytesIO(b"clip"))
    assert list(here.addresses()) == []


def test_no_address_leads_out_of_the_store(two: tuple[Files, Files]) -> None:
    for bad in ("../../x", "", "a" * 63, "A" * 64):
        with pytest.raises(InternalError, match="address"):
            two[0].path(bad)


def test_it_goes_to_worker_processes(url: str, tmp_path: Path) -> None:
    files = pickle.loads(pickle.dumps(RemoteFiles(url, tmp_path / "one")))
    assert files.path(files.keep(io.BytesIO(b"clip"))).read_bytes() == b"clip"


@pytest.mark.parametrize("bad", ["nonsense://x", "s4://bucket"])
def test_a_place_that_does_not_exist_is_one_sentence(bad: str, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="PLUMBSET_FILES_URL"):
        files_of(StoreSettings("", tmp_path, files_url=bad))


def test_one_setting_decides(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("PLUMBSET_DATA", str(tmp_path))
    monkeypatch.delenv("PLUMBSET_FILES_URL", raising=False)
    assert type(files_of(store_settings())) is Files
    monkeypatch.setenv("PLUMBSET_FILES_URL", "memory://clips")
    assert isinstance(files_of(store_settings()), RemoteFiles)
    assert "memory" not in repr(store_settings())
