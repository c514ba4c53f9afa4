"""Checks as the bench reads them: words, limits, number entries, what is in the way."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.checks import Answer, Measure, PlannedCheck, Told, judge
from cases.domain.design import Design
from cases.domain.proposals import proposed
from cases.domain.toothwords import in_notation, relabel
from cases.models import CheckItem, CheckPhoto, CheckResult, Concession
from cases.selectors.bench_stage import StageView
from cases.selectors.resin import clocked_minutes

STEPS: dict[str, str] = {"mm": "0.1", "g": "0.5", "ml": "0.5"}
"""One press of − or +, by unit; what is not listed goes by ones. Judgement."""

NUMBERS = (
    "No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten",
    "Eleven", "Twelve", "Thirteen", "Fourteen", "Fifteen", "Sixteen", "Seventeen", "Eighteen",
    "Nineteen", "Twenty",
)  # fmt: skip


def number_words(count: int) -> str:
    """Write a small number as a word that begins a sentence."""
    return _(NUMBERS[count]) if count < len(NUMBERS) else str(count)


@dataclass(frozen=True)
class Entry:
    """One number to enter."""

    name: str
    id: str
    label: str
    value: str
    step: str
    unit: str
    start: str
    limit: str
    proposed: str = ""
    """What is known of it already, to be confirmed; empty once something is entered."""
    says: str = ""
    """Who says so, in a sentence."""

    @property
    def confirms(self) -> str:
        """The name under which the proposal is confirmed."""
        return self.name.replace("value-", "confirm-", 1)


@dataclass(frozen=True)
class ToldEntry:
    """Words to write or choose beside a number."""

    name: str
    id: str
    label: str
    value: str
    kept: str
    choices: tuple[tuple[str, str], ...]


@dataclass
class CheckRow:
    """One check on the page."""

    item: CheckItem
    strong: str
    rest: str
    limit: str
    kept: str
    sentence: str
    again: str
    yes_no: bool
    answer: str
    entries: list[Entry] = field(default_factory=list)
    told: list[ToldEntry] = field(default_factory=list)
    photo: bool = False
    photos: list[CheckPhoto] = field(default_factory=list)
    concession: Concession | None = None
    may_concede: bool = False
    made_from: int | None = None
    made_from_url: str = ""
    passed_before: CheckResult | None = None
    passed_words: str = ""
    passed_url: str = ""

    @property
    def anchor(self) -> str:
        """The id of the first thing to touch in this check."""
        return self.entries[0].id if self.entries else f"check-{self.item.pk}"

    @property
    def key(self) -> str:
        """The number that makes ids of this check single."""
        return str(self.item.pk)

    @property
    def label(self) -> str:
        """The whole wording, for whoever hears the page."""
        return f"{self.strong} {self.rest}".strip()


def check_rows(view: StageView, notation: str) -> list[CheckRow]:
    """Return the checks of a stage in order."""
    return [_row(item, view, notation) for item in view.checks]


def check_row(view: StageView, pk: int, notation: str) -> CheckRow:
    """Return one check of a stage."""
    return next(_row(item, view, notation) for item in view.checks if item.pk == pk)


def _row(item: CheckItem, view: StageView, notation: str) -> CheckRow:
    spec = PlannedCheck.from_json(item.spec)
    design = Design.from_json(view.case.design.data) if view.case.design else None
    milk = design.primary if design is not None else frozenset()
    subject = in_notation(spec.subject, notation, milk)
    words = _(spec.pattern or spec.words).replace("[subject]", subject)
    strong, rest = _split(words, subject)
    entered = item.values
    yes = entered.get("yes")
    photos = view.photos.get(item.pk, [])
    sentence = item.sentence if item.state in {"failed", "passed"} or item.values else ""
    sentence = relabel(sentence, item.subject, notation, milk)
    row = CheckRow(
        item=item,
        strong=strong,
        rest=rest,
        limit=_(spec.limit) if spec.limit else "",
        kept=_kept_line(spec, view.kept),
        sentence=sentence,
        again=_again(spec, subject),
        yes_no=spec.yes_no,
        answer={True: "yes", False: "no"}.get(yes, "") if yes is not None else "",
        photo=spec.photo,
        photos=photos,
        concession=view.concessions.get(item.pk),
    )
    row.entries = [
        _with_clock(
            _with_proposal(
                _entry(item, measure, view.kept, len(spec.measures) == 1, row.label),
                proposed(design, spec.number, spec.stage, measure.key, spec.subject),
            ),
            view,
            from_mix=spec.rule == "mix" and measure.key == "minutes",
        )
        for measure in spec.measures
    ]
    row.made_from = view.made_from(item)
    if row.made_from is not None:
        row.made_from_url = reverse(
            "cases:case-design-version", args=[view.case.number, row.made_from]
        )
    row.passed_before = view.passed_before.get(item.pk)
    if row.passed_before is not None:
        row.passed_words = relabel(row.passed_before.sentence, item.subject, notation, milk)
        row.passed_url = reverse(
            "cases:case-design-version",
            args=[view.case.number, row.passed_before.design_version],
        )
    row.told = [_told(item, one) for one in spec.told]
    if item.state == "failed":
        answer = Answer(yes, entered.get("values"), len(photos), entered.get("words"))
        row.may_concede = judge(spec, answer, view.kept).concession
    return row


def _split(words: str, subject: str) -> tuple[str, str]:
    """Set what a check is about in bold: up to the colon, or to the comma after its subject."""
    for mark in (": ", ", "):
        head, found, tail = words.partition(mark)
        about = mark == ": " or (subject and subject in head)
        if found and about and len(head) <= 60:
            return head + mark.strip(), tail
    return "", words


def _again(spec: PlannedCheck, subject: str) -> str:
    """Say what is to be done anew, for the one large button."""
    if spec.measures and subject:
        return _("Measure %(subject)s again") % {"subject": subject}
    if spec.measures:
        return _("Measure again")
    if subject:
        return _("Look at %(subject)s again") % {"subject": subject}
    return _("Look at it again")


def _kept_line(spec: PlannedCheck, kept: Mapping[str, Mapping[str, float]]) -> str:
    """Say the value kept earlier that this check is judged against."""
    lines = []
    for measure in spec.measures:
        number = measure.source_value
        if not number:
            continue
        for key, values in kept.items():
            name, _at, subject = key.partition(":")
            if name.split("@")[0] != number or subject != spec.subject or key == spec.key:
                continue
            stage = name.split("@")[1]
            lines += [_kept_words(stage, what, value) for what, value in values.items()]
    return " ".join(dict.fromkeys(lines))


def _kept_words(stage: str, what: str, value: float) -> str:
    if stage == "survey" and what == "line":
        return _("Survey line at %(n)s mm from the cusp tip.") % {"n": f"{value:g}"}
    if stage == "wax" and what == "caliper":
        return _("Caliper on the wax: %(n)s mm.") % {"n": f"{value:g}"}
    if stage == "wax" and what == "edge":
        return _("Wax edge at %(n)s mm from the cusp tip.") % {"n": f"{value:g}"}
    return _("Kept earlier: %(n)s.") % {"n": f"{value:g}"}


def _entry(
    item: CheckItem,
    measure: Measure,
    kept: Mapping[str, Mapping[str, float]],
    alone: bool,
    label: str,
) -> Entry:
    value = item.values.get("values", {}).get(measure.key)
    step = STEPS.get(measure.unit, "1")
    start = measure.low if measure.low is not None else measure.high
    line = kept.get(f"{measure.source_value}@survey:{item.subject}", {}).get("line")
    if line is not None and measure.low is not None:
        # From the cusp tip to the edge: the least height above the line is where to begin.
        start = line - measure.low
    decimals = len(step.partition(".")[2])
    return Entry(
        name=f"value-{measure.key}",
        id=f"check-{item.pk}-{measure.key}",
        label=label if alone else _(measure.words),
        value="" if value is None else f"{value:g}",
        step=step,
        unit=_(measure.unit) if measure.unit else "",
        start="" if start is None else f"{start:.{decimals}f}",
        limit="" if alone or measure.source_value else measure.limit_words,
    )


def _with_proposal(entry: Entry, value: float | None) -> Entry:
    """Return an entry with what the design says of it: the steps begin there."""
    if value is None or entry.value:
        return entry
    told = {"value": f"{value:g}", "unit": entry.unit}
    says = _("The design says %(value)s %(unit)s.") % told
    return replace(entry, proposed=f"{value:g}", start=f"{value:g}", says=says)


def _with_clock(entry: Entry, view: StageView, *, from_mix: bool) -> Entry:
    """Return an entry with what the clock of the dough noted, where it asks for that."""
    minutes = clocked_minutes(view.stage) if from_mix and not entry.value else None
    if minutes is None:
        return entry
    value = f"{minutes:g}"
    says = _("From the mix to the last closing as noted: %(value)s min.") % {"value": value}
    return replace(entry, proposed=value, start=value, says=says)


def _told(item: CheckItem, asked: Told) -> ToldEntry:
    """Return a place for words; what this lab uses as a rule stands there already."""
    said = item.values.get("words", {}).get(asked.key, "")
    return ToldEntry(
        name=f"told-{asked.key}",
        id=f"check-{item.pk}-{asked.key}",
        label=_(asked.words),
        value=said or asked.usual,
        kept=_(said) if said in asked.choices else said,
        choices=tuple((one, _(one)) for one in asked.choices),
    )


@dataclass(frozen=True)
class InTheWay:
    """What keeps a running stage from being passed; ``words`` stand on the main button."""

    words: str
    anchor: str
    failed: int
    left: int


def in_the_way(rows: list[CheckRow]) -> InTheWay | None:
    """Return what the main button says while something is open or failed, or None."""
    needed = [row for row in rows if row.item.required]
    failed = [
        row
        for row in rows
        if row.item.state == "failed" and (row.item.required or row.item.values.get("binding"))
    ]
    left = [row for row in needed if row.item.state == "open"]
    if failed:
        return InTheWay(failed[0].again, failed[0].anchor, len(failed), len(left))
    if left:
        words = ngettext("%(n)s thing is open: go to it", "%(n)s things are open: go on", len(left))
        return InTheWay(words % {"n": len(left)}, left[0].anchor, 0, len(left))
    return None


def heading(view: StageView, rows: list[CheckRow]) -> str:
    """Return the sentence of the page: the stage, and how many things must be true."""
    name = _(view.stage.name)
    needed = sum(row.item.required for row in rows)
    if view.stage.state == "done":
        return _("%(stage)s is done.") % {"stage": name}
    if view.stage.state == "skipped":
        return _("%(stage)s was skipped.") % {"stage": name}
    if view.stage.state == "countersign":
        return _("%(stage)s waits for a second pair of eyes.") % {"stage": name}
    if not needed:
        return _("%(stage)s. Nothing has to be entered before it is passed.") % {"stage": name}
    words = ngettext(
        "%(stage)s. %(n)s thing must be true before it is passed.",
        "%(stage)s. %(n)s things must be true before it is passed.",
        needed,
    )
    return words % {"stage": name, "n": number_words(needed)}
