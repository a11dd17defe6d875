"""A store of clips at a URL that can be told to fail, at any step and in the middle of a file."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import fsspec
from fsspec.implementations.memory import MemoryFileSystem


class FailingStore(MemoryFileSystem):  # type: ignore[misc]
    """Kept in memory. plan: for each coming step whether it fails; after the last one ``afterwards``."""

    protocol = "failing"
    store: ClassVar[dict[str, Any]] = {}
    pseudo_dirs: ClassVar[list[str]] = [""]
    plan: ClassVar[list[bool]] = []
    afterwards: ClassVar[bool] = False
    steps: ClassVar[int] = 0

    @classmethod
    def fail(cls, *plan: bool, afterwards: bool = False) -> None:
        """Set what comes."""
        cls.plan, cls.afterwards, cls.steps = list(plan), afterwards, 0

    def _step(self) -> bool:
        kind = type(self)
        kind.steps += 1
        return kind.plan.pop(0) if kind.plan else kind.afterwards

    def _may_fail(self) -> None:
        if self._step():
            raise ConnectionError("quota of Ilse's bucket")

    def exists(self, path: str, **more: Any) -> bool:
        self._may_fail()
        return bool(super().exists(path, **more))

    def makedirs(self, path: str, exist_ok: bool = False) -> None:
        self._may_fail()
        super().makedirs(path, exist_ok)

    def put_file(self, lpath: str, rpath: str, **more: Any) -> None:
        if self._step():
            self.pipe_file(rpath, Path(lpath).read_bytes()[:3])
            raise ConnectionError
        super().put_file(lpath, rpath, **more)

    def get_file(self, rpath: str, lpath: str, **more: Any) -> None:
        if self._step():
            Path(lpath).write_bytes(self.cat_file(rpath)[:3])
            raise ConnectionError
        super().get_file(rpath, lpath, **more)

    def mv(self, path1: str, path2: str, **more: Any) -> None:
        self._may_fail()
        self.pipe_file(path2, self.cat_file(path1))
        super().rm_file(path1)

    def rm_file(self, path: str) -> None:
        self._may_fail()
        super().rm_file(path)

    def find(self, path: str, **more: Any) -> Any:
        self._may_fail()
        return super().find(path, **more)


fsspec.register_implementation("failing", FailingStore, clobber=True)
