"""Command: python -m sample_clips.recordings PLAN.toml [NAME ...] --out DIR [--clips DIR] [--pieces DIR].

Joins rendered clips and what lies between sets into recordings with their truth. A plan holds recordings,
each with a name and its parts in order:

    { clip = "chest-press-clean", from_s = 0, to_s = 30, who = "Mara", card = 7 }
        the clip or those seconds of it; a card is held up before the person for a moment before it
    { empty = "chest-press-clean", seconds = 90 }
        the same room with the person painted over
    { sits = "chest-press-clean", seconds = 40 }
        takes the handles, waits, lets go, waits: the clip's beginning to and fro
    { rests = "chest-press-clean", seconds = 40 }
        sits there and does not move
    { trainer = "chest-press-clean", seconds = 20 }
        in the empty room a trainer comes, bends to the seat and pulls at it, and goes

``passes_s`` with a clip or an empty room lets somebody walk through in front of it at that second.

Each piece is encoded once, as a phone does with a key picture a second, and its packets are joined.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import tomllib
from fractions import Fraction
from pathlib import Path

import av
import cv2
import numpy as np

from sample_clips.passing import WALK_S, adjusting, body, figure_of, walk_through
from sample_clips.rendered import truth_of
from shared.domain import Frame
from shared.keypoints import BONES, INDEX
from vision.seeing.clip import open_clip
from vision.seeing.member_cards import WHOLE, card_cells
from vision.seeing.pose_mediapipe import MediaPipePose

TIME_BASE = Fraction(1, 90_000)
RATE = 25
#: An empty room is this long, s, and repeated; its grain is drawn from so many pictures.
EMPTY_S, GRAINS = 10, 12
GRAIN = 1.5
CARD_S = 2.0
#: Who only sits waits so long, s, with the hands on the handles, and in the lap.
WAIT_S = 7.0
HERE = Path(__file__).parent
#: Who passes by, and how much nearer to the phone than who sits.
FIGURE, NEARER = HERE / "lat-pulldown-faulty.mp4", 1.1


def main(arguments=None):
    """Join the recordings of a plan."""
    parser = argparse.ArgumentParser(prog="python -m sample_clips.recordings")
    parser.add_argument("plan", type=Path)
    parser.add_argument("name", nargs="*", help="the recordings of the plan; all if none is named")
    parser.add_argument("--out", required=True, type=Path)
    parser.add_argument("--clips", type=Path, action="append", default=[HERE], help="where clips lie")
    parser.add_argument("--pieces", type=Path, help="where encoded pieces are kept for other plans")
    chosen = parser.parse_args(arguments)
    for recording in read_plan(chosen.plan):
        if not chosen.name or recording["name"] in chosen.name:
            compose(recording["part"], chosen.out / f"{recording['name']}.mp4", chosen.clips, chosen.pieces)
            print(recording["name"], flush=True)


def read_plan(path):
    """The recordings of a plan, each with its name and parts."""
    return tomllib.loads(path.read_text(encoding="utf-8"))["recording"]


def compose(parts, out, folders=(HERE,), pieces=None):
    """Write a recording of parts, and its truth beside it; the truth."""
    pieces = pieces or out.parent / "pieces"
    pieces.mkdir(parents=True, exist_ok=True)
    files, sets, at_s = [], [], 0.0
    for part in parts:
        for kind, given in _pieces(part):
            file = _piece(kind, given, folders, pieces)
            if kind in ("set", "passed"):
                sets += _set_truth(part, given, folders, at_s)
            files.append(file)
            at_s += _length(file)
    out.parent.mkdir(parents=True, exist_ok=True)
    _join(files, out)
    truth = {"schema": "plumbset.recording-truth/1", "duration_s": round(at_s, 3), "sets": sets}
    out.with_suffix(".truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return truth


def _pieces(part):
    """(kind, what it is made of) of each piece of a part, in order."""
    if "passes_s" in part and "empty" in part:
        yield "empty-passed", (part["empty"], float(part["seconds"]), float(part["passes_s"]))
    elif "empty" in part:
        yield from [("empty", (part["empty"],))] * max(1, round(part["seconds"] / EMPTY_S))
    elif kind := next((kind for kind in ("sits", "rests", "trainer") if kind in part), None):
        yield kind, (part[kind], float(part["seconds"]))
    else:
        if "card" in part:
            yield "card", (part["clip"], part["card"], float(part.get("card_s", CARD_S)))
        given = part["clip"], float(part.get("from_s", 0.0)), part.get("to_s")
        yield ("passed", (*given, float(part["passes_s"]))) if "passes_s" in part else ("set", given)


def _piece(kind, given, folders, pieces):
    name = hashlib.sha256(repr((kind, given)).encode()).hexdigest()[:10]
    file = pieces / f"{kind}-{given[0]}-{name}.mp4"
    if not file.exists():
        part = file.with_suffix(".part")
        _encode(FRAMES[kind](_clip(given[0], folders), *given[1:]), part)
        part.replace(file)
    return file


def _clip(name, folders):
    return next(folder / f"{name}.mp4" for folder in folders if (folder / f"{name}.mp4").exists())


def _set_truth(part, given, folders, at_s):
    """The repetitions that lie wholly in the part, as one set in the recording's time; none of under 3."""
    truth = truth_of(_clip(given[0], folders))
    from_s, to_s = given[1], given[2] or truth["duration_s"]
    reps = [r for r in truth["reps"] if r["start_s"] >= from_s and r["end_s"] <= to_s and not r["partial"]]
    if len(reps) < 3:
        return []
    return [
        {
            "clip": given[0],
            "exercise": truth["exercise"],
            "who": part.get("who"),
            "card": part.get("card"),
            "count": len(reps),
            "start_s": round(at_s + reps[0]["start_s"] - from_s, 3),
            "end_s": round(at_s + reps[-1]["end_s"] - from_s, 3),
        }
    ]


def _of_set(clip, from_s, to_s):
    begun = None
    for frame in open_clip(clip).frames(from_s, to_s):
        begun = frame.time_s if begun is None else begun
        yield frame.time_s - begun, frame.image


def _of_passed(clip, from_s, to_s, passes_s):
    figure, trunk = _somebody(clip)
    for time_s, image in _of_set(clip, from_s, to_s):
        yield time_s, _passed(image, figure, trunk, time_s - passes_s)


def _of_empty_passed(clip, seconds, passes_s):
    figure, trunk = _somebody(clip)
    for time_s, image in _long_empty(clip, seconds):
        yield time_s, _passed(image, figure, trunk, time_s - passes_s)


def _of_trainer(clip, seconds):
    figure, trunk = _somebody(clip)
    for time_s, image in _long_empty(clip, seconds):
        yield time_s, adjusting(image, figure, trunk, time_s, seconds)


def _passed(image, figure, trunk, since_s):
    """The picture with somebody walking through, since_s after they came."""
    return walk_through(image, figure, trunk, since_s / WALK_S) if 0 <= since_s <= WALK_S else image


def _somebody(clip):
    """Who walks through or adjusts the seat, and their trunk in this clip, px: they are a little nearer."""
    return figure_of(FIGURE, without_person), NEARER * body(next(open_clip(clip).frames()).image)[1]


def _long_empty(clip, seconds):
    room = [image for _, image in _of_empty(clip)][:GRAINS]
    for k in range(round(seconds * RATE)):
        yield k / RATE, room[(7 * k) % GRAINS]


def _of_empty(clip):
    """The clip's first picture without its person."""
    yield from _grainy(without_person(next(open_clip(clip).frames()).image), EMPTY_S)


def _of_rests(clip, seconds):
    """The clip's first picture."""
    yield from _grainy(next(open_clip(clip).frames()).image, seconds)


def _grainy(image, seconds):
    """The same picture for so long, in grain that differs from one to the next."""
    rng = np.random.default_rng(3)
    noisy = [
        np.clip(image + rng.normal(0, GRAIN, image.shape), 0, 255).astype(np.uint8) for _ in range(GRAINS)
    ]
    for k in range(round(RATE * seconds)):
        yield k / RATE, noisy[(7 * k) % GRAINS]


def _of_sits(clip, seconds):
    """What comes before the first repetition, a wait, the same backwards, and a wait again."""
    first_s = truth_of(clip)["reps"][0]["start_s"]
    images = [frame.image for frame in open_clip(clip).frames(0.0, first_s - 0.1)]
    wait = round(WAIT_S * RATE)
    around = [*images, *images[-1:] * wait, *images[::-1], *images[:1] * wait]
    for k in range(round(seconds * RATE)):
        yield k / RATE, around[k % len(around)]


def _of_card(clip, number, seconds):
    """The clip's first picture, with a card held up, swaying a little."""
    image = next(open_clip(clip).frames()).image
    side = round(image.shape[1] * 0.18)
    sheet = card_picture(number, side)
    for k in range(round(seconds * RATE)):
        shown = image.copy()
        x = round(image.shape[1] * 0.4 + 4 * np.sin(k / 5))
        y = round(image.shape[0] * 0.45 + 3 * np.cos(k / 7))
        shown[y : y + len(sheet), x : x + len(sheet)] = sheet[..., None]
        yield k / RATE, cv2.GaussianBlur(shown, (0, 0), 0.6)


def card_picture(number, side):
    """A member's card as grey levels, its marker ``side`` px wide within a white edge."""
    cells = np.full((WHOLE + 2, WHOLE + 2), 215, np.uint8)
    for row, column in card_cells(number):
        cells[row + 1, column + 1] = 30
    return cv2.resize(cells, (side, side), interpolation=cv2.INTER_NEAREST)


def without_person(image):
    """A picture with the person in it filled in from around them."""
    seen = MediaPipePose().survey([Frame(0, 0.0, image)], 1)
    body = seen.image_px[0, 0, :, :2]
    trunk = np.linalg.norm(body[INDEX["left_hip"]] - body[INDEX["left_shoulder"]])
    cover = np.zeros(image.shape[:2], np.uint8)
    for a, b in BONES:
        ends = [tuple(int(v) for v in body[INDEX[name]]) for name in (a, b)]
        cv2.line(cover, *ends, 255, round(0.42 * trunk))
    cv2.circle(cover, tuple(int(v) for v in body[:11].mean(axis=0)), round(0.42 * trunk), 255, -1)
    hull = cv2.convexHull(body[11:25].astype(np.int32))
    cv2.fillConvexPoly(cover, hull, 255)
    return cv2.inpaint(image, cover, 5, cv2.INPAINT_TELEA)


FRAMES = {
    "set": _of_set, "passed": _of_passed, "empty": _of_empty, "empty-passed": _of_empty_passed,
    "sits": _of_sits, "rests": _of_rests, "card": _of_card, "trainer": _of_trainer,
}  # fmt: skip


def _encode(frames, out):
    """Pictures (s, RGB) as H.264 with a key picture a second."""
    with av.open(str(out), "w", format="mp4") as container:
        stream = container.add_stream("libx264", rate=RATE)
        stream.options = {"crf": "23", "preset": "ultrafast", "g": str(RATE), "keyint_min": str(RATE)}
        stream.pix_fmt = "yuv420p"
        stream.time_base = stream.codec_context.time_base = TIME_BASE
        for time_s, image in frames:
            if not stream.codec_context.is_open:
                stream.height, stream.width = image.shape[:2]
            picture = av.VideoFrame.from_ndarray(np.ascontiguousarray(image), format="rgb24")
            picture.pts, picture.time_base = round(time_s / TIME_BASE), TIME_BASE
            container.mux(stream.encode(picture))
        container.mux(stream.encode(None))


def _length(file):
    """Seconds from a piece's first picture to where the next piece begins."""
    clip = open_clip(file).clip
    return round(clip.duration_s * RATE) / RATE


def _join(files, out):
    """The pieces' packets one after the other."""
    part, at_s = out.with_suffix(".part"), 0.0
    with av.open(str(part), "w", format="mp4") as target:
        stream = None
        for file in files:
            with av.open(str(file)) as piece:
                source = piece.streams.video[0]
                stream = stream or target.add_stream_from_template(source)
                shift, first = round(at_s / source.time_base), None
                for packet in piece.demux(source):
                    if packet.pts is None:
                        continue
                    first = packet.dts if first is None else first
                    packet.pts, packet.dts = packet.pts - first + shift, packet.dts - first + shift
                    packet.stream = stream
                    target.mux(packet)
            at_s += _length(file)
    part.replace(out)


if __name__ == "__main__":
    main()
