"""When a file says that it was recorded."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import av
import numpy as np
import pytest

from vision.seeing.recorded_at import recorded_at


def clip(path: Path, said: str | None) -> Path:
    with av.open(str(path), "w", format="mp4") as container:
        if said is not None:
            container.metadata["creation_time"] = said
        stream = container.add_stream("libx264", rate=10)
        stream.width, stream.height, stream.pix_fmt = 64, 64, "yuv420p"
        picture = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
        container.mux(stream.encode(picture))
        container.mux(stream.encode(None))
    return path


@pytest.mark.parametrize(
    ("said", "moment"),
    [
        ("2026-11-02T08:30:00.000000Z", datetime(2026, 11, 2, 8, 30, tzinfo=UTC)),
        (None, None),
        ("1970-01-02T00:00:00.000000Z", None),
    ],
    ids=["said", "nothing", "a clock never set"],
)
def test_a_file_says_when_it_was_recorded(tmp_path: Path, said: str | None, moment: datetime | None) -> None:
    assert recorded_at(clip(tmp_path / "one.mp4", said)) == moment
