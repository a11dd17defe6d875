"""What a member is told of a set: the tool's prompts until the trainer has looked, then the trainer's words.

Plain rules over a report and the decisions about it; nothing here reads the store.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from typing import Any, Literal

from app.rules.other_machine import doubt_of, member_words
from app.rules.states import DecisionKind
from shared.faults import is_own_range, order_of
from shared.report import FindingPart, SetReport
from vision.telling.cues import MOST_CUES, one_thing, praise
from vision.telling.groups import last_reps, leads
from vision.telling.handout import NOTHING, nothing
from vision.telling.words import count_words

NOTE = "set"
STOP = "Stop for today. Your trainer may not have seen this yet: go and tell them before you train again."
STOP_HEADLINE = "Stop, and talk to your trainer"
PAIN_FIRST = "You had pain with this set. Your trainer checks it first"
WITH_PAIN = "You had pain with this set. Talk to your trainer before you do it again."
HELD = "Your trainer checks this first. Their notes will appear here."
NOT_LOOKED_AT = "Not yet looked at by your trainer"
#: A place in a picture, as shares of its width and height.
Place = tuple[float, float]


@dataclass(frozen=True)
class Said:
    """The latest a trainer said of one finding.

    place: what added words point at; check: which one should have seen what was added, if any.
    """

    kind: DecisionKind
    words: str = ""
    time_s: float | None = None
    place: Place | None = None
    check: str = ""


@dataclass(frozen=True)
class Prompt:
    """One prompt: what to say, of which repetitions, and the moment that shows it best.

    origin: tool, or what the trainer did with it. picture: key of the finding or the added moment whose
    picture shows it.
    check: id of the check, empty for what the trainer added.
    """

    title: str
    words: str
    reps: list[int] = field(default_factory=list)
    time_s: float | None = None
    picture: str | None = None
    origin: Literal["tool", "agreed", "reworded", "added"] = "tool"
    check: str = ""


@dataclass(frozen=True)
class Told:
    """A result as the member reads it. prompts: the main one first; praise: of the best repetition.

    notice: what stands before everything else, such as that this may be another machine; nothing: what they
    read where nothing stood out, empty where the trainer said something; glanced: one rep was looked at.
    """

    state: Literal["checking", "unfit", "failed", "held", "preliminary", "released"]
    headline: str
    stop: bool = False
    prompts: list[Prompt] = field(default_factory=list)
    note: str = ""
    tempo: str = ""
    count: int | None = None
    problems: list[str] = field(default_factory=list)
    by: str = ""
    praise: str = ""
    notice: str = ""
    nothing: str = NOTHING
    glanced: bool = False

    def to_json(self) -> dict[str, Any]:
        """Plain data, for keeping what was handed over."""
        return asdict(self)

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Told:
        """Read back what was handed over; fields of later versions are left aside."""
        known = {k: v for k, v in data.items() if k in cls.__dataclass_fields__}
        names = Prompt.__dataclass_fields__
        known["prompts"] = [
            Prompt(**{k: v for k, v in p.items() if k in names}) for p in data.get("prompts", [])
        ]
        return cls(**known)


def key_of(finding: FindingPart) -> str:
    """The name under which decisions about a finding are kept."""
    return f"{finding.check}:{'' if finding.rep is None else finding.rep}"


def tool_prompts(report: SetReport) -> list[Prompt]:
    """What the tool alone would tell: the most worrying fault, and at most one more."""
    return _prompts(report, {}, MOST_CUES)


def decided_prompts(report: SetReport | None, said: Mapping[str, Said]) -> list[Prompt]:
    """What the member is told once the trainer hands the result over.

    A flag stands unless it was called no fault; whatever was reworded is told in the trainer's
    words, a moment to watch too; added moments come in the order of the clip. With the trainer's own words
    there are at most ``MOST_CUES``, but the main cue of the tool's is always among them, and so are the
    member's own limit and every word of the trainer's.
    """
    added = sorted(
        ((k, s) for k, s in said.items() if k.startswith("added:") and s.kind == "added"),
        key=lambda pair: pair[1].time_s or 0.0,
    )
    told = _prompts(report, said, MOST_CUES - len(added)) if report else []
    for key, one in added:
        rep = rep_at(report, one.time_s) if report else None
        reps = [rep] if rep else []
        told.append(
            Prompt("From your trainer", one.words, reps, time_s=one.time_s, picture=key, origin="added")
        )
    return told


def _prompts(report: SetReport, said: Mapping[str, Said], room: int) -> list[Prompt]:
    """By worry. room: for so many; the trainer's words and the member's own limit first, then the agreed."""
    every = _worded(report, said)
    own = [p for p in every if p.origin == "reworded" or is_own_range(p.check)]
    others = sorted((p for p in every if p not in own), key=lambda p: p.origin != "agreed")
    least = 0 if any(is_own_range(p.check) for p in own) else 1
    kept = [*own, *others[: max(least, room - len(own))]]
    return sorted(kept, key=lambda p: order_of(p.check))


def _worded(report: SetReport, said: Mapping[str, Said]) -> list[Prompt]:
    """One prompt a fault, whatever checks saw it, in the order of worry."""
    found: dict[tuple[str, str], list[tuple[FindingPart, str]]] = {}
    for finding in report.findings:
        one = said.get(key_of(finding))
        words = _words(finding, one)
        if words is not None:
            # reworded moments of one check with the same words are one prompt, the tool's are one a check
            group = one.words if one is not None and one.kind == "reword" else ""
            found.setdefault((finding.check, group), []).append((finding, words))
    plain = {check: [f for f, _ in parts] for (check, group), parts in found.items() if not group}
    told_with = leads(plain, last_reps(report))
    made = []
    for (check, group), parts in found.items():
        if group or told_with[check] == check:
            also = [] if group else [f for c, fs in plain.items() if c != check == told_with[c] for f in fs]
            made.append(_prompt(parts, said, also))
    return sorted(made, key=lambda p: order_of(p.check))


def _words(finding: FindingPart, said: Said | None) -> str | None:
    if said is not None and said.kind == "reword":
        return said.words
    if said is not None and said.kind == "no-fault":
        return None
    return finding.prompt if finding.verdict == "flag" else None


def own_words(said: Mapping[str, Said]) -> bool:
    """Whether a trainer said something in words of their own: then the tool neither praises nor reassures."""
    return any(one.words for one in said.values() if one.kind in ("note", "added", "reword"))


def cleared(report: SetReport, said: Mapping[str, Said]) -> SetReport:
    """The report without what a trainer called no fault."""
    none = {key for key, one in said.items() if one.kind == "no-fault"}
    gone = {"verdict": "clear", "prompt": None}
    found = [one.model_copy(update=gone) if key_of(one) in none else one for one in report.findings]
    return report.model_copy(update={"findings": found})


def standing(report: SetReport, said: Mapping[str, Said]) -> bool:
    """Whether anything was said of a set: a flag that was not called no fault, or a trainer's own words."""
    return own_words(said) or bool(cleared(report, said).flags())


def _prompt(
    parts: Sequence[tuple[FindingPart, str]], said: Mapping[str, Said], also: Sequence[FindingPart]
) -> Prompt:
    """also: findings of other checks that saw the same fault."""
    lead, words = max(parts, key=lambda part: part[0].clearness)
    kinds: dict[str, Literal["agreed", "reworded"]] = {"agree": "agreed", "reword": "reworded"}
    one = said.get(key_of(lead))
    return Prompt(
        title=lead.title or lead.check,
        words=words,
        reps=sorted({f.rep for f in [*(f for f, _ in parts), *also] if f.rep is not None}),
        time_s=lead.time_s,
        picture=key_of(lead) if lead.verdict == "flag" else None,
        origin=kinds.get(one.kind, "tool") if one else "tool",
        check=lead.check,
    )


def rep_at(report: SetReport | None, time_s: float | None) -> int | None:
    """The repetition going on at a moment, its rest included."""
    if report is None or time_s is None:
        return None
    return next((r.number for r in report.reps if r.start_s <= time_s < r.end_s + (r.rest_s or 0.0)), None)


def recounted(report: SetReport, counted: int | None) -> SetReport:
    """The report with a trainer's own count of the set, who counted what was short or left it out."""
    if counted is None:
        return report
    full = [rep for rep in report.reps if not rep.partial]
    return report.model_copy(update={"count": counted, "reps": full})


def latest(decisions: Iterable[tuple[str, Said]]) -> dict[str, Said]:
    """The last word on each finding, from decisions in the order they were made."""
    out: dict[str, Said] = {}
    for finding, said in decisions:
        if said.kind == "withdrawn":
            out.pop(finding, None)
        else:
            out[finding] = said
    return out


def preliminary(report: SetReport, pain: bool, held: bool = False, machine_sure: bool = False) -> Told:
    """What a member reads before the trainer has looked; with pain, no coaching at all.

    held: nothing of the tool's until it was handed over, but how to film again and that this may be another
    machine: then the tool coaches nobody. machine_sure: a trainer said that it is the machine named.
    """
    if pain:
        return Told("preliminary", STOP_HEADLINE, stop=True)
    doubt = None if machine_sure else doubt_of(report)
    notice = member_words(doubt) if doubt else ""
    if not report.quality.usable:
        problems = [p.text for p in report.quality.problems]
        return Told("unfit", "This clip could not be judged", problems=problems, notice=notice)
    if held or doubt:
        return Told("held", count_words(report), count=report.count, notice=notice)
    prompts = tool_prompts(report)
    return Told(
        "preliminary",
        _headline(report, prompts),
        prompts=prompts,
        tempo=report.tempo.sentence if report.tempo else "",
        count=report.count,
        praise=praise(report),
        nothing=nothing(report),
    )


def _headline(report: SetReport, prompts: Sequence[Prompt]) -> str:
    """The count, and the one thing to work on where the tool words it."""
    main = next(iter(prompts), None)
    if main is None or main.origin not in ("tool", "agreed"):
        return count_words(report)
    return one_thing(report, main.words, main.reps)


def stopped(content: Told | None = None, since: bool = False) -> Told:
    """Any result while pain stops the member: no coaching. since: it was handed over after the pain of this
    very set was told, so that the trainer's note speaks of it and stays.
    """
    if content is not None and since:
        return Told(content.state, STOP_HEADLINE, stop=True, note=content.note, by=content.by)
    return Told("preliminary", STOP_HEADLINE, stop=True, by=content.by if content else "")


def going_on(content: Told, pain: bool = False) -> Told:
    """What was handed over, once nothing stops the member. pain: it was told with this set, also since."""
    if pain:
        return replace(content, stop=False, praise="", nothing=WITH_PAIN)
    return replace(content, stop=False)


def released(report: SetReport | None, said: Mapping[str, Said], pain: bool, trainer: str) -> Told:
    """What a member reads from the moment the trainer hands the result over."""
    note = said.get(NOTE)
    fit = report is not None and report.quality.usable
    prompts, own = decided_prompts(report, said), own_words(said)
    headline = "Your trainer has looked at this set"
    if report is not None and fit:
        headline = count_words(report) if pain else _headline(report, prompts)
    return Told(
        "released", headline, stop=pain, prompts=prompts, note=note.words if note else "", by=trainer,
        tempo=report.tempo.sentence if report is not None and report.tempo and not pain else "",
        count=report.count if report is not None else None,
        problems=[p.text for p in report.quality.problems] if report is not None and not fit else [],
        praise=praise(cleared(report, said)) if report and fit and not (pain or own) else "",
        nothing=WITH_PAIN if pain else "" if own else NOTHING,
    )  # fmt: skip
