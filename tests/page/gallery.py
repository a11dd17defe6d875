"""Each screen in both themes and at both sizes, to be looked at: a part of ``make pictures``."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from io import BytesIO
from pathlib import Path
from typing import Any

from app.jobs.contained import Say
from app.jobs.queue import Claimed, Outcome, claim
from app.jobs.worker import Check, check_contained, run_with
from app.page import studio as studio_page
from app.page.studio import Studio
from app.rules.told import key_of
from app.store.files import Files
from app.store.rules import Actor
from app.store.signin import session_for
from tests.page import walk
from tests.page.test_browser import LAPTOP, PHONE, SOON
from tests.samples import checked, clip_of
from tests.unit.handmade import analysis
from vision.seeing.clip import open_clip
from vision.telling.moving import moving_drawing
from vision.telling.pictures import flag_pictures
from vision.telling.write import write_outputs

#: Of the demo studio's clips: what their recorded looks say, and one that is told to be unfit. The rest wait.
FROM_LOOKS = (
    "chest-fly-faulty",
    "chest-press-faulty",
    "lat-pulldown-faulty",
    "leg-extension-clean",
    "leg-curl-faulty",
)
UNFIT = "chest-press-clean"
SIZES = {"laptop": LAPTOP, "phone": PHONE}
#: The page scrolls in a box of its own: one window further; gives whether there was more to see.
FURTHER = """high => {
  const box = document.querySelector("[data-testid=stMain]") ?? document.scrollingElement;
  const before = box.scrollTop; box.scrollTo(0, before + high); return box.scrollTop > before + 8; }"""
#: No screen has more pictures than this.
MOST = 5
STILL = "v => v.pause()"
#: Nothing on the screen has changed for half a second.
QUIET = """() => new Promise(quiet => {
  let last;
  const wait = () => { clearTimeout(last); last = setTimeout(() => { seen.disconnect(); quiet(); }, 500); };
  const seen = new MutationObserver(wait);
  seen.observe(document.body, {subtree: true, childList: true});
  wait();
})"""


def judge(studio: Studio, really: str) -> dict[str, int]:
    """Have clips of the demo studio judged; ``really``: the one that is looked at. Gives the set of each."""
    checks: dict[str, Check] = {f"{name}.mp4": _from_looks for name in FROM_LOOKS}
    checks |= {really: check_contained, f"{UNFIT}.mp4": _unfit}
    sets: dict[str, int] = {}
    while (job := claim(studio.database)) is not None:
        if job.clip_name in checks:
            sets[job.clip_name] = job.set_id
            run_with(studio.database, studio.files, job, checks[job.clip_name])
    return sets


def _from_looks(job: Claimed, files: Files, folder: Path, say: Say) -> Outcome:
    """What a check leaves, without looking: the clip itself stands for the one with heads hidden."""
    name = Path(job.clip_name).stem
    found, source, out = checked(name)[0], open_clip(clip_of(name)), folder / "out"

    def keep(data: bytes) -> str:
        return files.keep(BytesIO(data))

    write_outputs(source, found, out)
    kept = {kind: keep((out / kind).read_bytes()) for kind in ("report.html", "handout.png", "signals.csv")}
    shown = flag_pictures(source, found, watch=True)
    pictures = [(f"{check}:{'' if rep is None else rep}", keep(data)) for (check, rep), data in shown.items()]
    moving = moving_drawing(found)
    return Outcome(
        found.report, annotated=job.clip, page=kept["report.html"], signals=kept["signals.csv"],
        moving=keep(moving.encode()) if moving else None,
        pictures=(*pictures, ("handout.png", kept["handout.png"])),
    )  # fmt: skip


def _unfit(job: Claimed, files: Files, folder: Path, say: Say) -> Outcome:
    return Outcome(
        analysis(usable=False).report.model_copy(update={"exercise": job.exercise}), annotated=job.clip
    )


def hand_over(studio: Studio, set_id: int) -> None:
    """Agree with the first flag, say one thing of the frame, and hand the set over."""
    access = studio.access(_actor(studio, 1))
    report = access.reports([set_id])[set_id]
    access.decide(set_id, [key_of(report.flags()[0])], "agree")
    access.add_moment(set_id, report.reps[2].turn_s, "Keep this elbow under the handle.", (0.45, 0.4))
    access.release(set_id)


def photograph(
    studio: Studio, address: str, browser: Any, out: Path, sets: Sequence[int], person: int
) -> Iterator[Path]:
    """A screen in every theme and size. sets: what a trainer reviews; person: a member with results."""
    trainer, member = _actor(studio, 1), _actor(studio, person)
    own = [row.id for row in studio.access(trainer).sets(person) if row.status in ("checked", "unfit")]
    walks = (("door", None, walk.DOORS), ("trainer", trainer, walk.trainers(sets)),
             ("member", member, walk.members(own[:3])))  # fmt: skip
    for theme in ("light", "dark"):
        for size, window in SIZES.items():
            for who, actor, screens in walks:
                context = browser.new_context(viewport=window, color_scheme=theme)
                if actor is not None:
                    secret = session_for(studio.database, actor)
                    cookie = {"name": studio_page.DEMO_COOKIE, "value": secret, "url": address}
                    context.add_cookies([cookie])
                page = context.new_page()
                page.set_default_timeout(SOON)
                for screen in _walk(page, address, screens):
                    name = re.sub(r"\W+", "-", screen).strip("-") or "first"
                    path = out / f"{who}-{name}-{size}-{theme}.png"
                    yield from _take(page, path, window)
                context.close()


def _walk(page: Any, address: str, screens: Sequence[str]) -> Iterator[str]:
    """The doors are no pages of the page's own: they are there at once."""
    if tuple(screens) != walk.DOORS:
        yield from walk.walk(page, address, screens)
        return
    for door in screens:
        page.goto(f"{address}/{door}")
        yield door


def _take(page: Any, path: Path, window: dict[str, int]) -> Iterator[Path]:
    """The screen as it opens, then window by window what is reached by scrolling; clips stand still."""
    page.wait_for_function("() => !document.querySelector('[data-testid=stSkeleton]')")
    page.evaluate(QUIET)
    page.evaluate("() => document.fonts.ready")
    for video in page.locator("video").all():
        video.evaluate(STILL)
    for number in range(1, MOST + 1):
        shot = path.with_stem(f"{path.stem}-{number}")
        page.screenshot(path=shot)
        yield shot
        if not page.evaluate(FURTHER, window["height"] - 80):
            break


def _actor(studio: Studio, number: int) -> Actor:
    """Somebody of the studio by number."""
    person = studio.access(Actor(1, "Runa", "trainer")).person(number)
    return Actor(person.id, person.name, person.role)
