"""Fetch and lock what a verb works on; every refusal about a missing or changed thing is here.

Locks are always taken case first, then its rows, then shared things by primary key, so two
verbs can wait for each other but never in a circle.
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from cases.domain.reasons import HOLD
from cases.models import Case, CaseStage, CheckItem, Hold
from cases.selectors.rows import find, only, read
from cases.services.record import Refusal


def lock_case(case_id: int) -> Case:
    """Return the case, locked until the transaction ends.

    Raises
    ------
    Refusal
        ``no-case`` when there is none.
    """
    case = only(find(Case, id=case_id, lock=True))
    if case is None:
        raise Refusal("no-case", _("There is no such case. Look the number up again."))
    return case


def lock_open_case(case_id: int, *, version: int | None = None) -> Case:
    """Return the case, locked; refuse a closed one, and a changed one when ``version`` is given."""
    case = lock_case(case_id)
    _refuse_closed(case)
    if version is not None and case.version != version:
        raise Refusal(
            "case-changed",
            _(
                "%(number)s was changed by somebody else meanwhile. Look at what is new, then "
                "enter yours again."
            )
            % {"number": case.number},
        )
    return case


def _refuse_closed(case: Case) -> None:
    if case.state in {"sent", "cancelled"}:
        sentence = {
            "sent": _("%(number)s has left the lab. Nothing more can be done on it."),
            "cancelled": _("%(number)s was cancelled. Nothing more can be done on it."),
        }[case.state]
        raise Refusal("case-closed", sentence % {"number": case.number})


def lock_stage(stage_id: int, *, version: int | None = None) -> tuple[Case, CaseStage]:
    """Return the case (locked first) and one of its stages (locked).

    Raises
    ------
    Refusal
        ``no-stage``, ``case-closed``, or ``stage-changed`` when ``version`` is stale; its
        sentence says who did what.
    """
    # A stage belongs to one case for ever, so its case can be asked for before the lock.
    owner = read(CaseStage, ("case_id",), id=stage_id)
    if not owner:
        raise Refusal("no-stage", _("There is no such stage. Open the case again."))
    case = lock_case(owner[0][0])
    _refuse_closed(case)
    [stage] = find(CaseStage, id=stage_id, lock=True)
    if version is not None and stage.version != version:
        raise Refusal("stage-changed", changed_words(case, stage))
    stage.case = case
    return case, stage


def changed_words(case: Case, stage: CaseStage) -> str:
    """Return who did what to a stage that a form no longer fits."""
    who = stage.worker.name if stage.worker else _("Somebody")
    did = {
        "running": _("%(who)s has it in hand"),
        "paused": _("%(who)s paused it"),
        "done": _("%(who)s finished it"),
        "countersign": _("%(who)s finished it; it waits for a countersign"),
        "away": _("%(who)s sent it to the practice"),
        "skipped": _("%(who)s skipped it"),
        "planned": _("%(who)s put it back"),
        "dropped": _("%(who)s changed the design, and it is no longer needed"),
    }[stage.state] % {"who": who}
    return _(
        "%(number)s, %(stage)s: %(did)s. Nothing of yours was stored over it; "
        "look at the page again."
    ) % {"number": case.number, "stage": _(stage.name), "did": did}


def lock_item(item_id: int, *, version: int | None = None) -> tuple[Case, CaseStage, CheckItem]:
    """Return a check with its locked case and stage."""
    found = read(CheckItem, ("stage_id",), id=item_id)
    if not found:
        raise Refusal("no-check", _("There is no such check. Open the stage again."))
    case, stage = lock_stage(found[0][0], version=version)
    [item] = find(CheckItem, id=item_id, lock=True)
    item.stage = stage
    return case, stage, item


def holds_over(case: Case, key: str) -> list[Hold]:
    """Return the open holds that stop stage ``key`` (a hold without stages stops them all)."""
    return [
        hold
        for hold in find(Hold, case_id=case.pk, released_at=None, order=("opened_at", "id"))
        if not hold.stages or key in hold.stages
    ]


def refuse_held(case: Case, key: str) -> None:
    """Raise Refusal when a hold stops stage ``key``."""
    for hold in holds_over(case, key):
        raise Refusal(
            "on-hold",
            _("%(number)s is on hold: %(words)s. Release the hold first, or take another case.")
            % {"number": case.number, "words": hold.words or _(HOLD.get(hold.reason).words)},
        )


def refuse_packed(case: Case) -> None:
    """Raise Refusal when a case lies in a box: nothing about its work changes there.

    Raises
    ------
    Refusal
        ``case-packed``.
    """
    if case.state == "packed":
        raise Refusal(
            "case-packed",
            _("%(number)s is packed. Take it out of its box first.") % {"number": case.number},
        )
