"""The trainer's cards: one a fault with its picture, measure and limit; agree, reword, or no fault."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import streamlit as st
from markupsafe import Markup, escape

from app.page.entry import CLIP
from app.page.timeline import loop
from app.rules.told import Prompt, Said, key_of
from app.rules.words import exercise_of
from app.store.access import Access
from app.store.models import TrainingSet
from app.views import clip, parts
from shared.errors import PlumbsetError
from shared.report import FindingPart, SetReport
from vision.telling.cues import best_rep
from vision.telling.groups import Group, groups
from vision.telling.words import measured_words, reps_words

_SAID = {"agree": "Agreed", "reword": "Reworded", "no-fault": "No fault"}


def show_all(access: Access, row: TrainingSet, report: SetReport, playable: bool) -> None:
    """Flags, what the trainer added, moments to watch, and what could not be told.

    playable: there is a clip to jump in.
    """
    said = access.said(row.id)
    exercise = exercise_of(row.exercise)
    flags = groups(report, exercise, "flag")
    waiting = [g for g in flags if not _decided(g, said)]
    if report.quality.usable and not flags:
        parts.html("<p><b>Nothing was flagged.</b> Watch a repetition or two before you hand it over.</p>")
    for problem in report.quality.problems:
        st.warning(parts.plain(problem.text))
    for group in flags:
        _card(
            access,
            row,
            report=report,
            group=group,
            said=said,
            playable=playable,
            first=bool(waiting) and group is waiting[0],
        )
    _added(access, row, said)
    watch = groups(report, exercise, "watch")
    if watch:
        with st.expander(f"To watch: {', '.join(g.title.lower() for g in watch)}", expanded=not flags):
            st.caption("Beyond the limit more likely than not, but not certain; the member is told nothing.")
            for group in watch:
                _card(access, row, report=report, group=group, said=said, playable=playable, first=False)
    cannot = groups(report, exercise, "cannot-tell")
    if cannot:
        with st.expander("Cannot tell from this clip"):
            parts.html("".join(_cannot(g) for g in cannot))


def _decided(group: Group, said: Mapping[str, Said]) -> bool:
    return all(key_of(f) in said for f in group.every)


def _card(
    access: Access,
    row: TrainingSet,
    report: SetReport,
    group: Group,
    said: Mapping[str, Said],
    playable: bool,
    first: bool,
) -> None:
    with st.container(border=True, key=f"card-{row.id}-{group.verdict}-{group.check}"):
        picture = access.picture(row.id, key_of(group.lead)) if group.verdict == "flag" else None
        parts.html(f"{card_html(group, picture)}{_jumps(group) if playable else ''}")
        if playable:
            _beside(access, row, report=report, group=group)
        chosen = _chosen(group, row.id)
        _state(group, said)
        _actions(access, row.id, group=group, chosen=chosen, said=said, first=first)


def card_html(group: Group, picture: bytes | None) -> str:
    """What was found, against which limit, how sure, and the prompt as the tool words it."""
    lead = group.lead
    image = f'<img src="{parts.picture_address(picture)}" alt="{escape(_alt(group))}">' if picture else ""
    where = "Over the whole set" if lead.rep is None else f"Repetition {lead.rep}"
    when = f" at {lead.time_s:.1f} s" if lead.time_s is not None else ""
    clearest = f", the clearest of {len(group.findings)}" if len(group.findings) > 1 else ""
    also = "".join(f"<p>{escape(fact)}.</p>" for fact in group.facts)
    told_member = (
        f'<p class="pl-say"><b>For the member</b>{escape(lead.prompt)}</p>'
        if lead.prompt
        else '<p class="pl-quiet">The member is told nothing of this unless you word it.</p>'
    )
    return (
        f'<div class="pl-card"><h3>{parts.mark(group.verdict)}{escape(group.title)}'
        f"<small>{escape(group.which)}</small></h3>"
        f'<div class="lead">{image}<div><p class="pl-big">{escape(group.measured)}</p>'
        f"<p>{escape(where + when + clearest)}. Limit: {escape(group.limit)}.</p>"
        f"{also}{_note(lead)}{told_member}</div></div></div>"
    )


def _note(finding: FindingPart) -> str:
    """What there is to add to a finding, such as why it is no more than a question."""
    if not finding.reason:
        return ""
    return f'<p class="pl-quiet">{escape(finding.reason[0].upper() + finding.reason[1:])}.</p>'


def _alt(group: Group) -> str:
    return f"{group.title}, {reps_words([group.lead.rep])}: {group.measured}"


def _jumps(group: Group) -> Markup:
    timed = sorted((f for f in group.every if f.time_s is not None), key=lambda f: f.time_s or 0)
    links = "".join(
        f'<a href="#clip" data-plumb-seek="{f.time_s}">{escape(_jump_words(f))}</a>' for f in timed
    )
    return Markup(f'<div class="pl-jump">{links}</div>') if timed else Markup("")


def _jump_words(finding: FindingPart) -> str:
    rep = f"Rep {finding.rep}" if finding.rep is not None else "Moment"
    return f"{rep}, {finding.time_s:.1f} s: {measured_words(finding).split(',')[0]}"


def _beside(access: Access, row: TrainingSet, report: SetReport, group: Group) -> None:
    rep = next((r for r in report.reps if r.number == group.lead.rep), None)
    if rep is None:
        return
    if st.toggle("Beside their best", key=f"beside-{row.id}-{group.verdict}-{group.check}"):
        mine = loop(rep, f"{CLIP}/{row.id}", f"Repetition {rep.number}")
        clip.loops(mine, _best(access, row, report), key=f"loops-{row.id}-{group.verdict}-{group.check}")


def _best(access: Access, row: TrainingSet, report: SetReport) -> dict[str, object] | None:
    """The best repetition of the member's reference, else of this very set."""
    reference = access.reference(row.person_id, row.exercise)
    if reference is not None and reference != row.id:
        other = access.report(reference)
        best = best_rep(other) if other else None
        if best is not None:
            return loop(best, f"{CLIP}/{reference}", f"Their best: repetition {best.number} of the reference")
    best = best_rep(report)
    return (
        loop(best, f"{CLIP}/{row.id}", f"Their best: repetition {best.number} of this set") if best else None
    )


def _chosen(group: Group, set_id: int) -> list[FindingPart]:
    """What the next click speaks of; all of the card unless the trainer picks repetitions."""
    ordered = sorted(group.every, key=lambda f: f.rep or 0)
    names = list(dict.fromkeys(f.rep for f in ordered))
    if len(names) < 2:
        return ordered
    picked = st.pills(
        "Which repetitions", names, selection_mode="multi", default=names,
        format_func=lambda rep: f"Rep {rep}" if rep is not None else "The whole set",
        key=f"reps-{set_id}-{group.verdict}-{group.check}",
    )  # fmt: skip
    return [f for f in ordered if f.rep in picked]


def _state(group: Group, said: Mapping[str, Said]) -> None:
    by_kind: dict[tuple[str, str], list[int | None]] = {}
    for finding in group.every:
        one = said.get(key_of(finding))
        if one is not None and one.kind in _SAID:
            by_kind.setdefault((one.kind, one.words), []).append(finding.rep)
    lines = []
    for (kind, words), reps in by_kind.items():
        of = f", {reps_words(reps)}" if len(group.every) > 1 else ""
        quoted = f'<p class="pl-say"><b>Your words</b>{escape(words)}</p>' if kind == "reword" else ""
        off = " off" if kind == "no-fault" else ""
        lines.append(f'<p class="pl-said{off}">{_SAID[kind]}{escape(of)}</p>{quoted}')
    if lines:
        parts.html("".join(lines))


def _actions(
    access: Access,
    set_id: int,
    group: Group,
    chosen: Sequence[FindingPart],
    said: Mapping[str, Said],
    first: bool,
) -> None:
    keys = [key_of(f) for f in chosen]
    name = f"{set_id}-{group.verdict}-{group.check}"
    if not keys:
        st.caption("Pick at least one repetition.")
        return
    words = {"agree": "Agree", "reword": "Reword", "no-fault": "No fault"}
    if group.verdict == "watch":
        words = {"reword": "Word a prompt", "no-fault": "No fault"}
    shortcuts = {"agree": "y", "reword": "e", "no-fault": "x"} if first else {}
    # a key pressed before the page has moved on speaks of a button that is no more: it decides nothing
    which = f"first-{name}" if first else name
    with st.container(horizontal=True, gap="small"):
        for kind, label in words.items():
            if st.button(label, key=f"{kind}-{which}", shortcut=shortcuts.get(kind)):
                if kind == "reword":
                    st.session_state[f"wording-{name}"] = True
                else:
                    access.decide(set_id, keys, kind)
                    st.session_state.pop(f"wording-{name}", None)
                st.rerun()
        if any(key in said for key in keys) and st.button("Undo", key=f"undo-{name}", type="tertiary"):
            access.decide(set_id, keys, "withdrawn")
            st.rerun()
    if st.session_state.get(f"wording-{name}"):
        _wording(access, set_id, keys=keys, group=group, said=said, name=name)


def _wording(
    access: Access, set_id: int, keys: Sequence[str], group: Group, said: Mapping[str, Said], name: str
) -> None:
    before = next((said[k].words for k in keys if k in said and said[k].words), group.lead.prompt or "")
    with st.form(f"words-{name}", border=False):
        words = st.text_area("The prompt in your words", before, max_chars=600)
        keep = st.form_submit_button("Keep these words", type="primary")
    if keep:
        try:
            access.decide(set_id, keys, "reword", words)
        except PlumbsetError as error:
            parts.said_wrong(error)
            return
        st.session_state.pop(f"wording-{name}", None)
        st.rerun()


def _added(access: Access, row: TrainingSet, said: Mapping[str, Said]) -> None:
    for name, one in said.items():
        if one.kind != "added":
            continue
        with st.container(border=True, key=f"card-{row.id}-{name.replace(':', '-')}"):
            parts.html(
                f'<div class="pl-card"><h3>You added<small>at {one.time_s or 0:.1f} s</small></h3>'
                f'<p class="pl-say"><b>For the member</b>{escape(one.words)}</p></div>'
                f'<div class="pl-jump"><a href="#clip" data-plumb-seek="{one.time_s}">Show it</a></div>'
            )
            if st.button("Take it back", key=f"back-{row.id}-{name}", type="tertiary"):
                access.decide(row.id, [name], "withdrawn")
                st.rerun()


def _cannot(group: Group) -> str:
    reasons = "".join(
        f"<li>{escape(reason)}</li>"
        for reason in dict.fromkeys(f.reason or group.cannot_tell for f in group.findings)
    )
    which = reps_words([f.rep for f in group.findings])
    return f"<p><b>{escape(group.title)}</b>, {escape(which)}</p><ul>{reasons}</ul>"


def as_member_reads(prompts: Sequence[Prompt], note: str) -> None:
    """The words alone, for a last look before handing over."""
    said = [f'<p class="pl-note">{escape(note)}</p>'] if note.strip() else []
    said += [f'<p class="pl-say"><b>{escape(_which(p))}</b>{escape(p.words)}</p>' for p in prompts]
    parts.html("".join(said) or "<p>No prompts.</p>")


def _which(prompt: Prompt) -> str:
    return f"{prompt.title}, {reps_words(list(prompt.reps))}" if prompt.reps else prompt.title
