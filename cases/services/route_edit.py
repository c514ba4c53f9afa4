"""Edit the route of the laboratory: a draft of the whole network, saved as a new version.

A draft is a ``RouteTemplate``. Each edit returns a new one; nothing is stored until
``save_route`` has looked at the whole. Open cases keep the version they were logged under.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from django.utils.text import slugify
from django.utils.translation import gettext as _

from cases.domain.checks import CheckSpec
from cases.domain.network import UNTIL_FINISH, UNTIL_WAIT
from cases.domain.route import (
    EdgeSpec,
    RouteProblem,
    RouteTemplate,
    StageSpec,
    difference,
    problems,
)
from cases.models import RouteVersion, Station
from cases.selectors.people import skill_holders
from cases.services.record import Recorder, Refusal, verb

LONGEST_KEY = 30
RESERVED = frozenset({UNTIL_FINISH, UNTIL_WAIT, "new"})
"""Words that the route or its addresses read otherwise."""
LONGEST_NAME = 80


def free_stage_key(template: RouteTemplate, name: str) -> str:
    """Return a key for a new stage, from its name, not taken in the template."""
    taken = {stage.key for stage in template.stages}
    base = slugify(name)[: LONGEST_KEY - 4] or "stage"
    if base in RESERVED:
        base += "-stage"
    key, number = base, 2
    while key in taken:
        key, number = f"{base}-{number}", number + 1
    return key


def put_stage(
    template: RouteTemplate, stage: StageSpec, before: Iterable[EdgeSpec]
) -> RouteTemplate:
    """Return the template with this stage (new, or in place of the one with its key).

    Parameters
    ----------
    before
        All edges that lead to the stage; edges that leave it are kept as they are.
    """
    edges = list(before)
    stages = list(template.stages)
    keys = [known.key for known in stages]
    if stage.key in keys:
        stages[keys.index(stage.key)] = stage
    else:
        after = [keys.index(edge.before) for edge in edges if edge.before in keys]
        stages.insert(max(after, default=len(stages) - 1) + 1, stage)
    others = [edge for edge in template.edges if edge.after != stage.key]
    return replace(template, stages=tuple(stages), edges=(*others, *edges))


def lead_on(template: RouteTemplate, key: str, to: Iterable[str]) -> RouteTemplate:
    """Return the template with an edge from stage ``key`` to each of ``to``, where none is."""
    known = {(edge.before, edge.after) for edge in template.edges}
    new = [EdgeSpec(key, after) for after in to if (key, after) not in known]
    return replace(template, edges=(*template.edges, *new))


def drop_stage(template: RouteTemplate, key: str) -> RouteTemplate:
    """Return the template without a stage, its edges, and the checks asked at it.

    What came before it is joined to what came after it, so that the route stays whole.
    """
    into = [edge for edge in template.edges if edge.after == key]
    out = [edge for edge in template.edges if edge.before == key]
    rest = [edge for edge in template.edges if key not in (edge.before, edge.after)]
    known = {(edge.before, edge.after) for edge in rest}
    joined = []
    for one in into:
        for other in out:
            if (one.before, other.after) not in known:
                known.add((one.before, other.after))
                when = one.when if other.when == "always" else other.when
                joined.append(
                    EdgeSpec(one.before, other.after, when, one.min_wait + other.min_wait)
                )
    checks = tuple(
        replace(check, again=tuple(a for a in check.again if a.stage != key))
        for check in template.checks
        if check.stage != key
    )
    stages = tuple(stage for stage in template.stages if stage.key != key)
    return replace(template, stages=stages, edges=(*rest, *joined), checks=checks)


def put_check(template: RouteTemplate, check: CheckSpec) -> RouteTemplate:
    """Return the template with this check (new, or in place of the one with its number)."""
    numbers = [known.number for known in template.checks]
    checks = list(template.checks)
    if check.number in numbers:
        checks[numbers.index(check.number)] = check
    else:
        checks.append(check)
    return replace(template, checks=tuple(checks))


def drop_check(template: RouteTemplate, number: int) -> RouteTemplate:
    """Return the template without a check."""
    kept = tuple(check for check in template.checks if check.number != number)
    return replace(template, checks=kept)


def route_problems(template: RouteTemplate) -> list[RouteProblem]:
    """Return why this template could not be saved here, with the people and stations there are."""
    found = list(problems(template, skill_holders()))
    stations = set(Station.objects.values_list("key", flat=True))
    for stage in template.stages:
        if stage.station and stage.station not in stations:
            found.append(
                RouteProblem(
                    f"stages.{stage.key}.station",
                    _(
                        "Stage “%(stage)s” stands at “%(station)s”, and there is no such station. "
                        "Choose one of the list."
                    )
                    % {"stage": stage.name, "station": _(stage.station)},
                )
            )
        if len(stage.name) > LONGEST_NAME:
            found.append(
                RouteProblem(
                    f"stages.{stage.key}.name",
                    _("Stage “%(stage)s…”: a name has at most %(longest)d signs.")
                    % {"stage": stage.name[:30], "longest": LONGEST_NAME},
                )
            )
    return found


@verb("route.save", may="settings")
def save_route(
    record: Recorder, *, base: int, document: dict[str, Any], reason: str
) -> dict[str, Any]:
    """Save a draft as the next version; cases logged from now on follow it.

    Parameters
    ----------
    base
        Version that the draft was made from.
    document
        ``RouteTemplate.to_json()`` of the draft.
    reason
        Why, in the manager's words.

    Returns
    -------
    dict
        ``version`` and ``changes`` (one sentence each).

    Raises
    ------
    Refusal
        ``route-changed`` when somebody saved meanwhile, ``no-change``, ``no-reason``,
        ``route-unsound`` with the sentences of what is wrong.
    """
    latest = RouteVersion.objects.select_for_update().order_by("-version").first()
    if latest is None or latest.version != base:
        raise Refusal(
            "route-changed",
            _("Somebody saved another version of the route meanwhile. Look at it, then make "
              "your changes again."),
        )  # fmt: skip
    if not reason.strip():
        raise Refusal("no-reason", _("Say in a few words why the route changes."), field="reason")
    try:
        template = RouteTemplate.from_json(document)
    except ValueError as error:
        raise Refusal("route-unreadable", str(error)) from error
    changes = difference(RouteTemplate.from_json(latest.document), template)
    if not changes:
        raise Refusal("no-change", _("Nothing was changed, so there is nothing to save."))
    found = route_problems(template)
    if found:
        raise Refusal("route-unsound", " ".join(problem.sentence for problem in found[:5]))
    record.event("route.saved", version=base + 1)
    row = record.create(
        RouteVersion,
        version=base + 1,
        document=template.to_json(),
        changes=list(changes),
        reason=reason.strip()[:200],
        by=record.person,
        saved_at=record.now,
    )
    return {"version": row.version, "changes": list(changes)}
