"""Whom a decision about a cure concerns: who is still in a flask, who is beyond it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q

from cases.models import Case, CaseStage, Load, LoadFlask, SendBack

OPENED = "deflask"


@dataclass(frozen=True)
class Concerned:
    """The cases of a load, as far as each has come; a cancelled one is not among them.

    Attributes
    ----------
    shut
        In their flasks: only these can be cured again.
    opened
        Out of their flasks, or being taken out; in the lab yet.
    gone
        Sent.
    """

    shut: list[Case]
    opened: list[Case]
    gone: list[Case]


def in_bath_since(load: Load, since: datetime) -> list[LoadFlask]:
    """Return the flasks of a load that were in its bath after an instant, in the order of locking.

    One whose cure has been begun anew since is not among them: it is in a later load, or will be.
    """
    in_it = Q(left_at=None) if load.state == "running" else Q(left_at__gt=since)
    rows = load.flasks.filter(in_it).select_related("case__practice", "case__design", "stage")
    rows = rows.order_by("case_id", "pk")
    return [one for one in rows if one.stage.attempt == one.attempt]


def cured_in(load: Load) -> list[LoadFlask]:
    """Return the flasks that had their cure in a load; none of one that was never put in."""
    return in_bath_since(load, load.placed_at) if load.placed_at else []


def cases_in_bath(load: Load) -> list[Case]:
    """Return the cases that were in the bath with a load, whatever became of them since."""
    put_in = Q(left_at=None) | Q(left_at__gt=F("load__placed_at"))
    rows = load.flasks.filter(put_in).select_related("case__design").order_by("case_id", "pk")
    return list({row.case_id: row.case for row in rows}.values())


def sent_back(cases: Iterable[Case], reason: str, at: datetime) -> set[int]:
    """Return which of these cases went back for a reason at an instant."""
    keys = [case.pk for case in cases]
    rows = SendBack.objects.filter(case__in=keys, reason=reason, at=at)
    return set(rows.values_list("case_id", flat=True))


def opened(cases: Iterable[int]) -> set[int]:
    """Return which of these cases are out of their flask, or being taken out."""
    rows = CaseStage.objects.filter(case__in=list(cases), key=OPENED)
    begun = rows.exclude(state__in=["planned", "dropped"])
    return set(begun.values_list("case_id", flat=True))


def concerned(flasks: Iterable[LoadFlask]) -> Concerned:
    """Sort the cases of flasks by how far they have come (one query more)."""
    cases = [one.case for one in flasks if one.case.state != "cancelled"]
    out = opened(case.pk for case in cases)
    here = [case for case in cases if case.state != "sent"]
    return Concerned(
        [case for case in here if case.pk not in out],
        [case for case in here if case.pk in out],
        [case for case in cases if case.state == "sent"],
    )
