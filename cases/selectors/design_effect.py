"""What a design would change: the case's work is grown twice and compared. Nothing is written."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass

from cases.domain.design import Borders, Design, Polish, WorkOrder
from cases.domain.design_change import Change, changes, without
from cases.domain.route import PlannedStage, Route, RouteTemplate, grow
from cases.models import Case


@dataclass(frozen=True)
class Effect:
    """The work before and after a decision.

    ``added`` and ``dropped`` are stages, ``longer`` stages that stay with other minutes (with
    their minutes before); ``minutes_before`` and ``minutes`` those of the whole route;
    ``checks_added`` and ``checks_dropped`` count required checks.
    """

    added: tuple[PlannedStage, ...]
    dropped: tuple[PlannedStage, ...]
    changed: tuple[tuple[PlannedStage, float], ...]
    minutes_before: float
    minutes: float
    checks_added: int
    checks_dropped: int

    @property
    def says_something(self) -> bool:
        """Whether anything differs at all."""
        return bool(
            self.added or self.dropped or self.changed or self.checks_added or self.checks_dropped
        )


def _checks(route: Route) -> set[str]:
    return {check.key for stage in route.stages for check in stage.checks if check.required}


def compare(before: Route, after: Route) -> Effect:
    """Return what differs between two routes of one case."""
    old = {stage.spec.key: stage for stage in before.stages}
    new = {stage.spec.key: stage for stage in after.stages}
    had, has = _checks(before), _checks(after)
    return Effect(
        added=tuple(stage for key, stage in new.items() if key not in old),
        dropped=tuple(stage for key, stage in old.items() if key not in new),
        changed=tuple(
            (stage, old[key].minutes)
            for key, stage in new.items()
            if key in old and old[key].minutes != stage.minutes
        ),
        minutes_before=before.minutes,
        minutes=after.minutes,
        checks_added=len(has - had),
        checks_dropped=len(had - has),
    )


def design_effect(
    case: Case, plan: Design, *, borders: Borders | None = None, polish: Polish | None = None
) -> Effect:
    """Return what ``plan`` and finish orders would change on a case.

    ``borders`` and ``polish`` are those of the order where they are None.
    """
    template = RouteTemplate.from_json(case.template.document)
    order = WorkOrder.from_json(case.work_order)
    finish = dataclasses.replace(
        order, borders=borders or order.borders, polish=polish or order.polish
    )
    present = Design.from_json(case.design.data) if case.design else Design(arch=plan.arch)
    return compare(grow(template, order, present), grow(template, finish, plan))


def contributions(case: Case, before: Design, after: Design) -> list[tuple[Change, Effect]]:
    """Return what each decision that differs adds or takes away by itself.

    Each is weighed against the design as it would be had that one decision stayed as it was.
    Decisions that leave stages, minutes and checks as they are left out.
    """
    template = RouteTemplate.from_json(case.template.document)
    order = WorkOrder.from_json(case.work_order)
    whole = grow(template, order, after)
    found = []
    for change in changes(before, after):
        effect = compare(grow(template, order, without(change, before, after)), whole)
        if effect.says_something:
            found.append((change, effect))
    return found
