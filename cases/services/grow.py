"""Turn a design into the case's stages, edges and checks, and re-grow them when it changes."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from typing import Any

from django.utils.translation import gettext as _

from cases.domain.checks import PlannedCheck
from cases.domain.design import Design as Plan
from cases.domain.design import WorkOrder
from cases.domain.design_change import changes, concerns
from cases.domain.route import PlannedStage, Route, RouteTemplate, grow
from cases.models import Case, CaseEdge, CaseStage, CheckItem, Design
from cases.services.progress import refresh
from cases.services.record import Recorder, Refusal, plain

OF_THE_PROGRAM = frozenset({"cure", "cool"})
"""Stages around which a load, or who conceded it, sets the waits: no design changes them."""


def route_of(case: Case, design: Plan) -> Route:
    """Return the route that the case's own template version grows from ``design``."""
    template = RouteTemplate.from_json(case.template.document)
    return grow(template, WorkOrder.from_json(case.work_order), design)


def would_lose(case: Case, design: Plan, order: WorkOrder) -> CaseStage | None:
    """Return a stage in somebody's hands that would fall away with this design and order."""
    template = RouteTemplate.from_json(case.template.document)
    wanted = grow(template, order, design).keys
    begun = case.stages.exclude(state__in=["planned", "done", "skipped", "dropped"])
    return begun.exclude(key__in=wanted).first()


def stage_fields(planned: PlannedStage, position: int) -> dict[str, Any]:
    """Return the columns of a stage as the route plans it."""
    spec = planned.spec
    return {
        "name": spec.name,
        "position": position,
        "kind": spec.kind,
        "skill": spec.skill,
        "station": spec.station,
        "minutes": planned.minutes,
        "spec": plain(dataclasses.asdict(spec)),
    }


def regrow(record: Recorder, case: Case, design: Plan, version: int) -> None:
    """Bring the case's stages, edges and checks in line with ``design`` under one event.

    What is done stays done; what is no longer needed is dropped, never deleted.

    Raises
    ------
    Refusal
        ``in-hand`` when somebody works on a stage that would go.
    """
    route = route_of(case, design)
    stages = _regrow_stages(record, case, route)
    _regrow_edges(record, case, route)
    _regrow_checks(record, case, route, stages, design, version)
    refresh(record, case)


def _regrow_stages(record: Recorder, case: Case, route: Route) -> dict[str, CaseStage]:
    stored = {stage.key: stage for stage in case.stages.select_for_update()}
    new = []
    shifted = []
    for position, planned in enumerate(route.stages, start=1):
        fields = stage_fields(planned, position)
        stage = stored.get(planned.spec.key)
        if stage is None:
            new.append(CaseStage(case=case, key=planned.spec.key, **fields))
            continue
        if stage.state == "dropped":
            record.change(stage, state="planned", version=stage.version + 1)
        if stage.position != fields.pop("position"):
            stage.position = position
            shifted.append(stage)
        record.change(stage, **fields)
    record.change_many(shifted, ["position"])
    record.create_many(new)
    wanted = {planned.spec.key for planned in route.stages}
    for key, stage in stored.items():
        if key in wanted or stage.state in {"done", "skipped", "dropped"}:
            continue
        if stage.state != "planned":
            raise Refusal(
                "in-hand",
                _(
                    "%(stage)s is in hand and would fall away with this design. Finish it or send "
                    "it back first."
                )
                % {"stage": _(stage.name)},
            )
        record.change(stage, state="dropped", version=stage.version + 1)
    return stored | {stage.key: stage for stage in new}


def _regrow_edges(record: Recorder, case: Case, route: Route) -> None:
    stored = {(edge.before, edge.after): edge for edge in case.edges.all()}
    new = []
    for edge in route.edges:
        row = stored.pop((edge.before, edge.after), None)
        waits = {
            "min_wait": edge.min_wait,
            "least_wait": edge.least_wait,
            "max_wait": edge.max_wait,
            "latest_words": edge.latest_words[:200],
        }
        if row is None:
            new.append(CaseEdge(case=case, before=edge.before, after=edge.after, **waits))
        elif not {edge.before, edge.after} & OF_THE_PROGRAM:
            record.change(row, **waits)
    record.create_many(new)
    for row in stored.values():
        record.remove(row)


def _regrow_checks(
    record: Recorder,
    case: Case,
    route: Route,
    stages: dict[str, CaseStage],
    design: Plan,
    version: int,
) -> None:
    stored = {item.key: item for item in case.checks.select_for_update()}
    # What a stage that is done should have been asked stays its own: a new design asks anew
    # only where the work is still to come.
    closed = {key for key, stage in stages.items() if stage.state in {"done", "skipped"}}
    wanted: dict[str, tuple[PlannedCheck, int]] = {
        check.key: (check, position)
        for planned in route.stages
        for position, check in enumerate(planned.checks, start=1)
        if check.stage not in closed
    }
    record.create_many(
        [
            CheckItem(
                case=case,
                stage=stages[check.stage],
                key=key,
                number=check.number,
                subject=check.subject,
                position=position,
                spec=check.to_json(),
                required=check.required,
                design_version=version,
            )
            for key, (check, position) in wanted.items()
            if key not in stored
        ]
    )
    kept = [item for key, item in stored.items() if key in wanted]
    gone = [item for key, item in stored.items() if key not in wanted and item.state == "open"]
    record.change_alike(gone, state="dropped")
    answered = [item for item in kept if item.state not in {"open", "dropped"}]
    stale = _judged_by_another(case, answered, design, version)
    # What passed against an earlier version stays readable as passed against that.
    stand = {item.pk for item in answered} - stale
    record.change_alike(
        [item for item in kept if item.pk not in stand and item.design_version != version],
        design_version=version,
    )
    for item in kept:
        check, position = wanted[item.key]
        fresh: dict[str, Any] = {
            "spec": plain(check.to_json()), "required": check.required, "position": position,
        }  # fmt: skip
        if item.state == "dropped":
            fresh["state"] = "open"
        elif item.pk in stale or (
            item.state != "open" and fresh["spec"]["measures"] != item.spec["measures"]
        ):
            # Another decision or limit than it was judged by; what was entered stays readable.
            fresh |= {"state": "open", "values": {}, "sentence": "", "design_version": version}
        record.change(item, **fresh)


def _judged_by_another(
    case: Case, answered: Iterable[CheckItem], design: Plan, version: int
) -> set[int]:
    """Return which checks were judged by a drawn version that decides otherwise what they look at.

    What was entered before anything was drawn is judged by the cast, and stands.
    """
    older = {item.design_version for item in answered} - {version}
    if not older:
        return set()
    drawn = case.designs.filter(version__in=older)
    found = {
        row.version: changes(Plan.from_json(row.data), design)
        for row in drawn
        if not row.data["provisional"]
    }
    return {
        item.pk
        for item in answered
        if concerns(found.get(item.design_version, ()), item.spec["stage"], item.subject)
    }


def keep_version(
    record: Recorder,
    case: Case,
    plan: Plan,
    reason: str,
    *,
    asked_by: str = "",
    standing: Mapping[str, str] | None = None,
) -> Design:
    """Create the next version of the design; the work goes on by the one that it goes by.

    Parameters
    ----------
    asked_by
        Who wished the change of a design that was drawn, ``lab`` or ``practice``.
    standing
        Finished stages that it puts in question and that are left standing, each with why.
    """
    number = case.designs.count() + 1
    kept = dict(standing or {})
    record.event(
        "design.set", case=case, subject=f"v{number}", reason=bool(reason), standing=sorted(kept)
    )
    return record.create(
        Design,
        case=case,
        version=number,
        data=plan.to_json(),
        reason=reason[:200],
        asked_by=asked_by,
        standing=kept,
        by=record.person,
        made_at=record.now,
    )


def store_design(
    record: Recorder,
    case: Case,
    plan: Plan,
    reason: str,
    *,
    asked_by: str = "",
    standing: Mapping[str, str] | None = None,
) -> Design:
    """Create the next design version and grow the route from it; see ``keep_version``."""
    design = keep_version(record, case, plan, reason, asked_by=asked_by, standing=standing)
    record.change(case, design=design)
    regrow(record, case, plan, design.version)
    return design
