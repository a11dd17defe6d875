"""One picture before the set: what is told of it, and that sound framing passes."""

from __future__ import annotations

import io
from collections.abc import Iterable
from pathlib import Path

import numpy as np
import pytest
from PIL import Image as Picture

from app.cli import app, run
from app.page import still
from shared.domain import Frame, Landmarks
from shared.errors import ClipError
from shared.exercise import find_exercise
from shared.keypoints import INDEX
from tests.people import landmarks, seated
from vision.common.seams import Box, Found
from vision.framing import framing_problems, read_picture

CLIPS = Path(__file__).parents[2] / "sample_clips"
LEGS = find_exercise("leg-extension")
_NOISE = np.random.default_rng(1).integers(60, 200, (64, 36, 3), dtype=np.uint8)
SHARP = np.repeat(np.repeat(_NOISE, 20, axis=0), 20, axis=1)
KNEE = np.array([100.0])


class Stick:
    """A PoseEstimator that sees what it was given."""

    name = "stick"

    def __init__(self, seen: Landmarks) -> None:
        self.seen = seen

    def survey(self, frames: Iterable[Frame], people: int) -> Landmarks:
        assert len(list(frames)) == 1
        return self.seen

    def follow(
        self, frames: Iterable[Frame], box: Box, mirrored: bool = False, found: Found | None = None
    ) -> Landmarks:
        raise AssertionError("one picture is only surveyed")


def _codes(seen: Landmarks, exercise: str = "leg-extension", picture: np.ndarray = SHARP) -> list[str]:
    return [p.code for p in framing_problems(picture, find_exercise(exercise), Stick(seen))]


def _hidden(part: str, visibility: float) -> Landmarks:
    seen = landmarks(seated(KNEE))
    seen.visibility[:, :, INDEX[f"right_{part}"]] = visibility
    return seen


def from_behind(seen: Landmarks) -> Landmarks:
    """The same landmarks, lying in space as if the camera stood behind the person."""
    seen.world_m[..., 0] = np.where(np.arange(33) % 2 == 1, -0.2, 0.2)
    seen.world_m[..., 2] = 0.0
    return seen


def test_a_whole_member_from_the_right_view_will_do() -> None:
    assert _codes(landmarks(seated(KNEE))) == []


@pytest.mark.parametrize("at", [(300.0, 1090.0), (300.0, 1130.0), (520.0, 640.0)])
def test_a_foot_beyond_or_hard_by_the_edge_is_told(at: tuple[float, float]) -> None:
    found = framing_problems(SHARP, LEGS, Stick(landmarks(seated(KNEE, at=at))))
    assert [p.code for p in found] == ["limb-out-of-picture"] and "nkle" in found[0].text


def test_parts_that_the_machine_does_not_need_may_be_cut_off() -> None:
    """The press is judged from arm, shoulder and hip: its feet may be out."""
    low = seated(KNEE, at=(300.0, 1130.0))
    assert _codes(landmarks(low), "chest-press") == []


@pytest.mark.parametrize(("visibility", "codes"), [(0.9, []), (0.3, ["limb-hidden"])])
def test_a_needed_part_that_is_not_seen_is_told(visibility: float, codes: list[str]) -> None:
    assert _codes(_hidden("knee", visibility)) == codes


def test_what_the_body_itself_may_hide_is_not_asked_for() -> None:
    rear = from_behind(landmarks(seated(KNEE)))
    rear.visibility[:, :, [INDEX["left_wrist"], INDEX["right_wrist"]]] = 0.1
    assert _codes(rear, "reverse-fly") == []


def test_a_wrong_view_is_told_and_nothing_of_limbs() -> None:
    cut = from_behind(landmarks(seated(KNEE, at=(300.0, 1130.0))))
    assert _codes(cut, "chest-fly") == ["wrong-view"]


def test_the_largest_person_is_judged() -> None:
    behind = seated(KNEE, at=(690.0, 640.0), trunk=60.0)
    assert _codes(landmarks(behind, seated(KNEE))) == []


@pytest.mark.parametrize(
    ("picture", "codes"),
    [
        (SHARP // 16, ["too-dark"]),
        (np.full_like(SHARP, 128), ["too-blurred"]),
        (SHARP, ["no-person"]),
    ],
)
def test_light_and_focus_are_told_even_where_nobody_was_found(picture: np.ndarray, codes: list[str]) -> None:
    nobody = landmarks(np.full((1, 33, 3), np.nan))
    assert _codes(nobody, picture=picture) == codes


def _photo(width: int, height: int, kind: str = "JPEG", turn: int | None = None) -> bytes:
    out, exif = io.BytesIO(), Picture.Exif()
    if turn is not None:
        exif[0x0112] = turn
    picture = Picture.new("RGB", (width, height))
    picture.paste((255, 0, 0), (0, 0, width // 2, height))
    picture.save(out, kind, exif=exif)
    return out.getvalue()


def test_a_photo_is_turned_upright_and_made_small() -> None:
    """EXIF 2.32 (CIPA DC-008): orientation 6 is shown turned a quarter clockwise."""
    image = read_picture(_photo(4000, 3000, turn=6))
    assert image.shape == (1280, 960, 3)
    assert image[100, 480, 0] > 200 and image[1200, 480, 0] < 50


@pytest.mark.parametrize("data", [b"", b"a letter", _photo(40, 30)[:200], _photo(9000, 9000, "PNG")])
def test_what_cannot_be_read_is_one_sentence(data: bytes) -> None:
    with pytest.raises(ClipError, match="picture"):
        read_picture(data)


@pytest.mark.parametrize(
    ("found", "code", "said"), [([], 0, "will do"), (["Too dark."], 3, "How to film it")]
)
def test_the_command_tells_what_stands_against_it(
    found: list[str], code: int, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: object
) -> None:
    monkeypatch.setattr(still, "problems_of", lambda data, name: found)
    photo = tmp_path / "photo.jpg"
    photo.write_bytes(b"x")
    line = ["framing", str(photo), "--exercise", "leg-extension"]
    assert run(lambda: app(line, standalone_mode=False)) == code
    out = capsys.readouterr().out  # type: ignore[attr-defined]
    assert said in out and all(f in out for f in found)


@pytest.mark.parametrize("name", ["leg-extension", "chest-fly"])
def test_pictures_of_a_sample_set_pass_and_cut_off_ones_do_not(name: str) -> None:
    from vision.seeing.clip import open_clip
    from vision.seeing.pose_mediapipe import MediaPipePose

    pose, exercise = MediaPipePose(), find_exercise(name)
    frames = list(open_clip(CLIPS / f"{name}-clean.mp4").frames(min_step_s=24.0))
    for frame in frames:
        assert framing_problems(frame.image, exercise, pose) == []
        cut = np.ascontiguousarray(frame.image[:, : frame.image.shape[1] // 2])
        assert framing_problems(cut, exercise, pose)
    assert len(frames) >= 3
