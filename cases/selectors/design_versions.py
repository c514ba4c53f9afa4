"""The versions of a case's design, what was conceded in them, and what was made from one."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from django.db.models import Count, Exists, OuterRef, Q
from django.utils.translation import gettext as _

from cases.domain.arch import Classification
from cases.domain.design import Design as Plan
from cases.domain.design import WorkOrder
from cases.domain.design_parts import RuleConcession
from cases.domain.design_review import RULES, review
from cases.domain.order import OrderForm
from cases.domain.rule_facts import Facts, facts_of
from cases.domain.rule_spec import Finding, say
from cases.models import Case, CheckResult, Design, Paper, Person

_PLACE: Final = re.compile(r"%\(\w+\)[-+.0-9]*[a-zA-Z]")


@dataclass(frozen=True)
class Conceded:
    """A rule that somebody passed in a design.

    Attributes
    ----------
    by
        Who took it on himself; empty where the record names nobody.
    finding
        What the rule finds on a design that did not keep what was said; None where it did, or
        where the rule would not speak any more.
    versions
        The versions that bear the concession, oldest first.
    """

    concession: RuleConcession
    by: str
    finding: Finding | None
    versions: tuple[int, ...]

    def sentence(self, label: Callable[[int], str]) -> str:
        """Return what the rule said when it was passed, teeth as ``label`` writes them."""
        if self.concession.words:
            return say(self.concession.words, dict(self.concession.facts), label)
        if self.finding is not None:
            return self.finding.say(label)
        rule = RULES.get(self.concession.rule)
        return _PLACE.sub("…", _(rule.words)).replace("%%", "%") if rule else ""


@dataclass(frozen=True)
class Versions:
    """Every version of a design, oldest first, and what was conceded in any of them."""

    rows: list[Design]
    conceded: list[Conceded]

    def newer_draft(self, present: int) -> Design | None:
        """The draft that was begun after the present version, or None."""
        newest = self.rows[-1] if self.rows else None
        return newest if newest and newest.version > present and newest.data["draft"] else None


@dataclass(frozen=True)
class Version:
    """One version, the one before it, and what was made from it.

    Attributes
    ----------
    row, plan
        The version.
    before
        The plan of the version before; None for the first.
    numbers
        The numbers of all versions, oldest first.
    kennedy
        The class of this version.
    checks
        Of each stage, in the order of the route, how many checks were asked from this version and
        how many of them have been asked again since, by a later one.
    papers
        The papers that tell of this version, oldest first.
    """

    row: Design
    plan: Plan
    before: Plan | None
    numbers: list[int]
    kennedy: Classification | None
    conceded: list[Conceded]
    checks: list[tuple[str, int, int]]
    papers: list[Paper]

    @property
    def earlier(self) -> int | None:
        """The number of the version before."""
        return max((n for n in self.numbers if n < self.row.version), default=None)

    @property
    def later(self) -> int | None:
        """The number of the version after."""
        return min((n for n in self.numbers if n > self.row.version), default=None)


def kennedy_of(case: Case, plan: Plan) -> Classification | None:
    """Return the class of a design of this case; asks the database nothing."""
    return _facts(case, plan).kennedy


def _facts(case: Case, plan: Plan) -> Facts:
    return facts_of(
        plan, OrderForm.from_json(case.order), order=WorkOrder.from_json(case.work_order)
    )


def _findings(case: Case, plan: Plan) -> Mapping[tuple[str, str], Finding]:
    return {(one.rule, one.subject): one for one in review(_facts(case, plan))}


def _conceded(case: Case, plans: Iterable[tuple[int, Plan]]) -> list[Conceded]:
    """Gather concessions, each once; what an old one did not keep the first version says anew
    (one query)."""
    bearing: dict[RuleConcession, list[tuple[int, Plan]]] = {}
    for number, plan in plans:
        for one in plan.concessions:
            bearing.setdefault(one, []).append((number, plan))
    if not bearing:
        return []
    people = dict(
        Person.objects.filter(pk__in={one.by for one in bearing if one.by}).values_list(
            "pk", "name"
        )
    )
    spoken: dict[int, Mapping[tuple[str, str], Finding]] = {}
    found = []
    for one, where in bearing.items():
        number, plan = where[0]
        if not one.words and number not in spoken:
            spoken[number] = _findings(case, plan)
        kept = {} if one.words else spoken[number]
        found.append(
            Conceded(
                concession=one,
                by=people.get(one.by or 0, ""),
                finding=kept.get((one.rule, one.subject)),
                versions=tuple(version for version, _plan in where),
            )
        )
    return found


def versions(case: Case) -> Versions:
    """Return every version of a case's design (two queries, however many there are)."""
    rows = list(case.designs.select_related("by"))
    plans = [(row.version, Plan.from_json(row.data)) for row in rows if row.data["concessions"]]
    return Versions(rows, _conceded(case, plans))


def version_of(case: Case, number: int) -> Version | None:
    """Return one version with what was made from it (five queries), or None."""
    numbers = list(case.designs.values_list("version", flat=True))
    near = {
        row.version: row
        for row in case.designs.filter(version__in=[number - 1, number]).select_related("by")
    }
    row = near.get(number)
    if row is None:
        return None
    plan = Plan.from_json(row.data)
    earlier = near.get(number - 1)
    papers = Paper.objects.filter(Q(case=case) | Q(shipment__contents__case=case))
    entered = CheckResult.objects.filter(item=OuterRef("pk"), design_version=number)
    # A check that nobody asks any more was asked all the same, where something was entered.
    asks = Q(design_version=number) & ~Q(state="dropped")
    asked = case.checks.filter(asks | Exists(entered))
    return Version(
        row=row,
        plan=plan,
        before=Plan.from_json(earlier.data) if earlier else None,
        numbers=numbers,
        kennedy=kennedy_of(case, plan),
        conceded=_conceded(case, [(number, plan)]),
        checks=list(
            asked.values_list("stage__name")
            .annotate(n=Count("pk"), again=Count("pk", filter=Q(design_version__gt=number)))
            .order_by("stage__position", "stage__pk")
        ),
        papers=[one for one in papers if one.designs.get(case.number) == number],
    )
