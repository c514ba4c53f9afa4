"""The page of one case: where it is, what it waits for, and everything that happened to it."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.http import HttpResponse
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from cases.domain.design import COPY_METHODS
from cases.domain.design import Design as Plan
from cases.domain.insertion import FIELDS
from cases.domain.order import OrderForm
from cases.domain.reasons import HOLD_WAITS_FOR
from cases.domain.toothwords import labels, relabel
from cases.models import Case, CaseStage, Hold
from cases.selectors.case_page import Blemish, CasePage, case_page
from cases.selectors.design_versions import versions
from cases.selectors.history import history
from cases.selectors.loads import loads_of
from cases.selectors.plan import leaving
from cases.services.record import Refusal
from cases.services.send_back import BEGUN
from cases.services.stage import NEVER_SKIPPED
from cases.views.case import where
from cases.views.case.answer_words import AnswerLine, answer_line, back_url
from cases.views.case.design_parts import METHOD_WORDS
from cases.views.case.door import frame_of, the_case
from cases.views.case.history_words import ITEM_WORDS, check_words, lines, reason_words
from cases.views.case.order_words import Row, order_rows
from cases.views.case.version_words import conceded_lines, version_lines
from cases.views.notation import notation_of
from cases.views.page import LabRequest, integer, page, show

KIND_WORDS = {
    "adjustment": gettext_noop("Adjustment"),
    "repair": gettext_noop("Broken clasp or tooth"),
    "addition": gettext_noop("Added tooth"),
    "remake": gettext_noop("Remake"),
}


@dataclass(frozen=True)
class HoldLine:
    """An open hold in words: why, whom it waits for, what stops.

    ``back_url``: where the design is put back, for a change that the practice refused.
    """

    hold: Hold
    why: str
    waits_for: str
    stops: str
    back_url: str


def hold_lines(shown: CasePage) -> list[HoldLine]:
    """Say the open holds, without those that stand with their open question."""
    people = {one.key: one.words for one in HOLD_WAITS_FOR}
    asked = {question.pk for question in shown.open_questions}
    found = []
    for hold in shown.holds:
        if hold.question_id in asked:
            continue
        names = [shown.names[key] for key in hold.stages if key in shown.names]
        why = reason_words(hold.reason)
        found.append(
            HoldLine(
                hold,
                why[:1].upper() + why[1:],
                _(people.get(hold.waits_for, hold.waits_for)).lower(),
                ", ".join(names) if hold.stages else _("the whole case"),
                back_url(shown.case) if hold.reason == "design-back" else "",
            )
        )
    return found


def question_lines(shown: CasePage) -> list[dict[str, Any]]:
    """Say the open questions with the stages that wait for each answer."""
    waits = {hold.question_id: hold for hold in shown.holds if hold.question_id}
    return [
        {
            "question": question,
            "stops": ", ".join(
                shown.names[key]
                for key in (waits[question.pk].stages if question.pk in waits else ())
                if key in shown.names
            ),
        }
        for question in shown.open_questions
    ]


def answer_lines(shown: CasePage, may: frozenset[str]) -> list[AnswerLine]:
    """Say the answers with which something is left to do, for somebody with these capabilities."""
    return [
        answer_line(question, shown.case, shown.names, may)
        for question in shown.questions
        if question.unsettled
    ]


@dataclass(frozen=True)
class BlemishLine:
    """A check that failed once, in words."""

    what: str
    stage: str
    now: str
    kind: str
    entries: tuple[str, ...]


def blemish_lines(
    blemishes: list[Blemish], notation: str, milk: Collection[int]
) -> list[BlemishLine]:
    """Say the checks that failed or were accepted, with who found and who accepted it."""
    states = {
        "failed": ("failed", _("failed, still open")),
        "conceded": ("failed", _("accepted as it is")),
        "passed": ("done", _("mended, true now")),
        "open": ("", _("to be checked again")),
        "dropped": ("", _("no longer asked")),
    }
    found = []
    for one in blemishes:
        entries = [
            _("%(who)s: %(words)s")
            % {
                "who": result.by.name,
                "words": relabel(result.sentence, one.item.subject, notation, milk),
            }
            for result in one.failed
        ]
        entries += [
            _("Accepted by %(who)s: %(reason)s. %(words)s")
            % {"who": row.by.name, "reason": reason_words(row.reason), "words": row.words}
            for row in one.concessions
        ]
        kind, now = states[one.item.state]
        entries = list(dict.fromkeys(entry.strip() for entry in entries))
        found.append(
            BlemishLine(
                check_words(one.item, notation, milk),
                one.item.stage.name,
                now,
                kind,
                tuple(entries),
            )
        )
    return found


def design_rows(plan: Plan, notation: str) -> list[Row]:
    """Return what a design decides, entry by entry."""
    clasps, label = [], labels(notation, plan.primary)
    for clasp in plan.clasps:
        parts = [label(clasp.tooth)]
        if clasp.wire_mm:
            parts.append(_("%(mm)s mm wire") % {"mm": f"{clasp.wire_mm:g}"})
        if clasp.undercut_mm:
            parts.append(_("undercut %(mm)s mm") % {"mm": f"{clasp.undercut_mm:.2f}"})
        if clasp.free_arm_mm:
            parts.append(_("free arm %(mm)s mm") % {"mm": f"{clasp.free_arm_mm:g}"})
        clasps.append(", ".join(parts))
    faces = [f"{label(tooth)} {_(side)}" for tooth, side in sorted(plan.blocked)]

    def teeth(places: Iterable[int]) -> str:
        return ", ".join(map(label, sorted(places)))

    method = _(METHOD_WORDS[plan.method])
    if plan.method in COPY_METHODS:
        method = f"{method} ({_(plan.copy_in)})"
    rows = [
        Row(_("Replaced"), teeth(plan.replaced)),
        Row(_("Missing, not replaced"), teeth(plan.missing - plan.replaced)),
        Row(_("Milk teeth still there"), teeth(plan.primary)),
        Row(_("Clasps"), "; ".join(clasps)),
        Row(_("Wire rests"), teeth(plan.rests)),
        Row(_("Bar"), _("Yes") if plan.bar else _("None")),
        Row(_("Joints"), str(plan.joints or "")),
        Row(_("Block-out"), method),
        Row(_("Blocked-out faces"), ", ".join(faces)),
        Row(_("Agreement"), _("The practice agrees first") if plan.needs_agreement else ""),
    ]
    return [row for row in rows if row.now]


def _reports(shown: CasePage) -> list[dict[str, Any]]:
    """Say the insertion reports, answer by answer."""
    columns = {"support": "seating", "occlusion": "bite", "chairside_minutes": "chair_minutes"}
    found = []
    for report in shown.reports:
        rows = []
        for one in FIELDS:
            told = getattr(report, columns.get(one.key, one.key))
            answers = {answer.key: _(answer.words) for answer in one.answers}
            minutes = _("not told") if told is None else str(told)
            rows.append(Row(_(one.words), answers.get(told, told) if answers else minutes))
        adjusted = ", ".join(reason_words(key) for key in report.adjusted)
        rows += [Row(_("Adjusted"), adjusted)] if adjusted else []
        found.append({"report": report, "rows": rows})
    return found


def _order(case: Case, notation: str) -> list[Row]:
    order = OrderForm.from_json(case.order)
    received = OrderForm.from_json(case.prescription.as_received).of_arch(
        "upper" if case.arch == "upper" else "lower"
    )
    rows = order_rows(order, received, notation)
    if case.patient_ref != case.prescription.patient_ref:
        rows.insert(0, Row(_("Patient reference"), case.patient_ref, case.prescription.patient_ref))
    return rows


def _things(shown: CasePage) -> list[dict[str, Any]]:
    """Return casts of this case and the shop's things it occupies."""
    states = {"void": _("void: a new impression took its place"), "gone": _("gone")}
    own = [
        {
            "thing": thing,
            "words": _("%(label)s cast") % {"label": _(thing.label)},
            "state": states.get(thing.state, ""),
            "until": "",
        }
        for thing in shown.things
    ]
    taken = [
        {
            "thing": row.thing,
            "words": f"{_(row.thing.kind)} {row.thing.label}".capitalize(),
            "state": "",
            "until": shown.names.get(row.until_stage, row.until_stage),
        }
        for row in shown.occupied
    ]
    return own + taken


def _received(shown: CasePage) -> list[dict[str, Any]]:
    forms = {"impression": _("impression"), "cast": _("poured cast"), "scan": _("scan")}
    return [
        {
            "row": row,
            "words": _(ITEM_WORDS.get(row.item, row.item)).capitalize(),
            "form": forms.get(row.form, ""),
        }
        for row in shown.received
    ]


def _pour_due(shown: CasePage) -> datetime | None:
    """Return by when the impression is to be poured, while it is not."""
    waits = any(s.key in {"pour", "pick-up"} and s.state == "planned" for s in shown.stages)
    return shown.case.pour_by if waits and shown.case.state == "open" else None


def _next_step(request: LabRequest, shown: CasePage) -> dict[str, str] | None:
    """Return the one thing to do next from this page, if it is this person's to do."""
    case, may = shown.case, request.visitor.may
    if case.state != "open":
        return None
    if may("hold") and request.visitor.door != "bench" and shown.open_questions:
        question = shown.open_questions[0]
        url = reverse("cases:question-answer", args=[case.number, question.pk])
        return {"url": url, "words": _("Enter the answer")}
    left = answer_lines(shown, request.visitor.capabilities) if may("hold") else []
    # What this person can do comes first, what they can only read and pass on last.
    for line in left:
        if line.enter_url:
            return {"url": line.url, "words": line.step}
    survey = next((stage for stage in shown.stages if stage.key == "survey"), None)
    drawn = case.design is not None and not case.design.data["provisional"]
    if may("work") and survey is not None and survey.state == "running" and not drawn:
        return {
            "url": reverse("cases:case-design", args=[case.number]),
            "words": _("Draw the design"),
        }
    return {"url": left[0].url, "words": left[0].step} if left else None


def _stage_rows(shown: CasePage, stages: list[CaseStage], kind: str) -> list[dict[str, Any]]:
    held = {key for hold in shown.holds for key in hold.stages}
    whole = any(not hold.stages for hold in shown.holds)
    return [
        {
            "stage": stage,
            "kind": kind,
            "held": whole or stage.key in held,
            "skippable": stage.key not in NEVER_SKIPPED,
            "work": shown.works.get(stage.pk),
            "request": next((c for c in shown.countersigns if c.stage_id == stage.pk), None),
        }
        for stage in stages
    ]


def show_case(request: LabRequest, case: Case, *, refusal: Refusal | None = None) -> HttpResponse:
    """Render the page of a case, with the sentence of a refusal on top where there is one."""
    now = request.now
    notation = notation_of(request)
    shown = case_page(case, now=now)
    past = history(case, page=integer(request.GET.get("page")) or 1)
    may = request.visitor.capabilities
    drawn = versions(case)
    plan = Plan.from_json(case.design.data) if case.design else None
    milk = plan.primary if plan else frozenset()
    newer = drawn.newer_draft(case.design.version if case.design else 0)
    context = {
        "case": case,
        "shown": shown,
        "frame": frame_of(request),
        "notation": notation,
        "heading": where.heading(shown, now),
        "tags": where.tags(shown, now, newer_draft=newer is not None),
        "pour_due": _pour_due(shown),
        "next_step": _next_step(request, shown),
        "in_hand": _stage_rows(shown, shown.in_hand, "running"),
        "ready": _stage_rows(shown, shown.ready(now), ""),
        "waiting": _stage_rows(shown, shown.waiting(now), "waiting"),
        "later": _stage_rows(shown, shown.later, ""),
        "over": _stage_rows(shown, shown.over, "done"),
        "holds": hold_lines(shown),
        "questions": question_lines(shown),
        "answers": answer_lines(shown, may),
        "blemishes": blemish_lines(shown.blemishes, notation, milk),
        "order": _order(case, notation),
        "design": design_rows(plan, notation) if plan else [],
        "newer_draft": newer,
        "versions": version_lines(
            drawn.rows, case.design.version if case.design else 0, shown.names
        ),
        "conceded": conceded_lines(drawn.conceded, notation, milk),
        "papers": [(one, one.designs.get(case.number)) for one in shown.papers],
        "things": _things(shown),
        "loads": loads_of(case.pk),
        "by_plan": leaving(case) if case.state == "open" else None,
        "received": _received(shown),
        "reports": _reports(shown),
        "remake_reason": reason_words(case.remake_reason) if case.remake_reason else "",
        "arch_words": _(case.arch),
        "kind_words": _(KIND_WORDS[case.kind]) if case.kind in KIND_WORDS else "",
        "history": lines(replace(past, notation=notation)),
        "history_page": past.page,
        "open": case.state in {"open", "packed"},
        "may_send_back": bool({"assign", "work"} & may)
        and any(stage.state in BEGUN for stage in shown.stages),
    }
    return show(request, "case/case.html", context, refusal=refusal)


@page(may="see-cases")
def case(request: LabRequest, number: str) -> HttpResponse:
    """Show one case."""
    return show_case(request, the_case(request, number))
