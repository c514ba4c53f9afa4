"""Draw the design, change it later: what the change puts in question is decided with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from cases.domain.design import Design as Plan
from cases.domain.design import WorkOrder
from cases.domain.design_slips import flaws
from cases.domain.rules_order import why_agree
from cases.domain.toothwords import named
from cases.models import Case, CaseStage, Design
from cases.selectors.design_doubts import doubts
from cases.selectors.design_drafts import drawn_design, finished_design
from cases.selectors.design_says import facts_about, says
from cases.selectors.rule_limits import lab_limits
from cases.services.access import lock_open_case, refuse_packed
from cases.services.agreement import reconcile
from cases.services.grow import keep_version, store_design, would_lose
from cases.services.record import Recorder, Refusal, verb
from cases.services.send_back import go_back

WHY_BACK = {"practice": "plan-changed", "lab": "other"}
"""Why stages that a change puts in question go back (reasons of the list for sending back)."""


@verb("design.set", may="work")
def set_design(
    record: Recorder,
    *,
    case: int,
    version: int,
    data: dict[str, Any],
    reason: str = "",
    draft: bool = False,
    asked_by: str = "lab",
    again: list[str] | None = None,
    standing: dict[str, str] | None = None,
) -> dict[str, Any]:
    """Store a new version of the design; route, checks and minutes follow from it.

    Parameters
    ----------
    data
        As from ``Design.to_json``.
    reason, asked_by
        Why a design that was drawn changes, and whether the ``"lab"`` or the ``"practice"`` wished
        it.
    draft
        The technician goes on later: kept, shown as unfinished, and the survey cannot end with it.
        Where a design was finished before, the work goes on by that one; a draft asks nobody,
        holds nothing and decides nothing.
    again, standing
        The finished stages that the change puts in question: those to be done again, and those
        left standing, each with why.

    Raises
    ------
    Refusal
        ``bad-design`` for teeth of the other arch or a clasp on a missing tooth. Of a finished
        design alone: ``no-reason`` when an earlier one is changed without, ``in-question`` where
        a finished stage is neither done again nor left standing with a reason, ``case-packed``
        while the piece lies in a box, ``rules`` where a rule refuses it, or asks for a concession
        that nobody gave.
    """
    row = lock_open_case(case, version=version)
    finished = finished_design(row)
    if finished is None or not draft:
        refuse_packed(row)
    plan = Plan.from_json({**data, "arch": row.arch, "provisional": False, "draft": draft})
    if asked_by not in WHY_BACK:
        raise Refusal("who-asked", _("Say who wished the change."), field="asked_by")
    faults = flaws(plan, _names_in(plan))
    if faults:
        raise Refusal("bad-design", " ".join(faults), field="design")
    plan = _as_conceded(record, row, plan, drawn_design(row))
    why = {key: words.strip() for key, words in (standing or {}).items() if words.strip()}
    if draft:
        wished = asked_by if finished is not None else ""
        kept = _keep_draft(record, row, plan, reason.strip(), wished, why)
        record.change(row, version=row.version + 1)
        return {"design": kept.pk, "version": row.version, "question": None}
    plan = _held_to_the_rules(row, plan, first=finished is None)
    if finished is not None and not reason.strip():
        raise Refusal("no-reason", _("Say why the design changes."), field="reason")
    question = finish_change(
        record, row, plan, reason=reason.strip(), asked_by=asked_by, again=again or [], why=why
    )
    record.change(row, version=row.version + 1)
    return {"design": row.design_id, "version": row.version, "question": question}


def finish_change(
    record: Recorder,
    case: Case,
    plan: Plan,
    *,
    reason: str,
    asked_by: str,
    again: Sequence[str],
    why: Mapping[str, str],
) -> int | None:
    """Store a finished design with what was decided for the stages that it puts in question.

    Returns
    -------
    int or None
        The open question, where it alters what the practice agreed to.

    Raises
    ------
    Refusal
        ``in-question`` where a finished stage is neither done again nor left standing.
    """
    finished = finished_design(case)
    back, stands = _decided(case, plan, again, why)
    if back:
        # Before the checks are grown anew: what is done again is asked by the new design.
        untouched = _("Not touched by the change of the design.")
        others = case.stages.filter(state="done").exclude(pk__in=[stage.pk for stage in back])
        as_they_are = {stage.key: why.get(stage.key, untouched) for stage in others}
        go_back(
            record, case, back, reason=WHY_BACK[asked_by], words=reason, standing=as_they_are
        )  # fmt: skip
    wished = asked_by if finished is not None else ""
    store_design(record, case, plan, reason, asked_by=wished, standing=stands)
    return reconcile(record, case, plan, asked_by)


def _keep_draft(
    record: Recorder,
    case: Case,
    plan: Plan,
    reason: str,
    wished: str,
    why: dict[str, str],
) -> Design:
    """Keep a draft; the work follows it only while no design is finished.

    Nor does it follow a draft by which a stage in somebody's hands would fall away.
    """
    order = WorkOrder.from_json(case.work_order)
    if finished_design(case) is not None or would_lose(case, plan, order) is not None:
        return keep_version(record, case, plan, reason, asked_by=wished, standing=why)
    return store_design(record, case, plan, reason, standing=why)


def _as_conceded(record: Recorder, case: Case, plan: Plan, before: Plan | None) -> Plan:
    """Return the design with a person and the rule's sentence for each concession.

    Both are of when it was first given; a new one is given by who draws, and keeps what the rule
    says of this design. One for a rule that does not speak here, or that says something else than
    stood above the reason, is none.
    """
    known = (
        {(one.rule, one.subject, one.reason): one for one in before.concessions} if before else {}
    )
    found = says(case, plan, lab_limits()).findings if plan.concessions else ()
    spoken = {(one.rule, one.subject): one for one in found if one.severity == "concession"}
    kept = []
    for one in plan.concessions:
        old = known.get((one.rule, one.subject, one.reason))
        finding = spoken.get((one.rule, one.subject))
        if old is not None and (not one.seen or old.covers(one.seen)):
            kept.append(replace(old, by=old.by or record.actor.pk))
        elif finding is not None and one.seen in ("", finding.mark):
            kept.append(finding.keep(replace(one, by=record.actor.pk)))
    return replace(plan, concessions=tuple(kept))


def _names_in(plan: Plan) -> Callable[[int], str]:
    """Return what writes a place of a design in a sentence that is kept, by what stands there."""
    return lambda place: named(plan.number_at(place))


def _held_to_the_rules(case: Case, plan: Plan, *, first: bool) -> Plan:
    """Return the design with the block-out advised; raise Refusal where a rule is not met.

    A concession that nothing needs any more is left behind: what is finished says of itself only
    what is so. Earlier versions keep theirs.

    Where the rules say so, the practice agrees to a design finished for the first time, unless it
    has agreed to that as a draft; later changes ask for themselves.
    """
    said = says(case, plan, lab_limits())
    if said.blocking:
        names = _names_in(plan)
        sentences = " ".join(finding.say(names) for finding in said.blocking)
        raise Refusal(
            "rules",
            _("%(sentences)s Mend it, give a reason where a concession may pass it, or keep a "
              "draft.") % {"sentences": sentences},
            field="design",
        )  # fmt: skip
    marks = {(one.rule, one.subject): one.mark for one in said.findings if one.passed}
    needed = [
        one
        for one in plan.concessions
        if (mark := marks.get((one.rule, one.subject))) and one.passes(mark)
    ]
    facts = facts_about(case, plan)
    agrees = plan.needs_agreement or (first and not facts.agreed and bool(why_agree(facts)))
    return replace(
        plan, advised=said.advised or "", needs_agreement=agrees, concessions=tuple(needed)
    )


def _decided(
    case: Case, plan: Plan, again: Sequence[str], why: Mapping[str, str]
) -> tuple[list[CaseStage], dict[str, str]]:
    """Return the stages to go back to, and why each other one in question is left standing."""
    doubted = [one.stage for one in doubts(case, plan)]
    open_ones = [stage for stage in doubted if stage.key not in again and stage.key not in why]
    if open_ones:
        names = ", ".join(f"“{stage.name}”" for stage in open_ones)
        raise Refusal(
            "in-question",
            ngettext(
                "The change puts %(stages)s in question. Say whether it is done again, or why it "
                "is left standing.",
                "The change puts %(stages)s in question. Say which are done again, and why the "
                "others are left standing.",
                len(open_ones),
            )
            % {"stages": names},
            field="again",
        )
    stands = {
        stage.key: why[stage.key]
        for stage in doubted
        if stage.key in why and stage.key not in again
    }
    back = case.stages.filter(state="done", key__in=again).order_by("position")
    return list(back), stands
