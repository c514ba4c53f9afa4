"""The rest under the clamp, as the program of a case asks for it: written into its own edge.

Which program that is gets known step by step: by the resin that was mixed, then by the load that
the flask is gathered for.
"""

from __future__ import annotations

from cases.domain.cure.program import read_program
from cases.domain.cure.rest import Rest, rest_before
from cases.domain.design import Design as Plan
from cases.domain.route import PlannedEdge, reachable
from cases.models import Case, CaseEdge, CaseStage, CureProgram, LoadFlask, StageRun
from cases.selectors.cure_settings import in_use
from cases.selectors.resin import resin_of
from cases.services.grow import route_of
from cases.services.progress import edges_of
from cases.services.record import Recorder

CURE = "cure"
RESTS_SINCE = ("clamp", "pack")
"""The stage with whose end the rest begins: the first of these that the case has."""


def set_rest(record: Recorder, case: Case) -> None:
    """Let the cure of a locked case wait as its program asks, under the event that stands open.

    Nothing is changed once the flask is in the bath. A person's concession does not outlast it:
    it was given for another program.
    """
    stages = {row.key: row for row in case.stages.exclude(state__in=["dropped", "skipped"])}
    since = next((stages[key] for key in RESTS_SINCE if key in stages), None)
    cure = stages.get(CURE)
    if since is None or cure is None or cure.state != "planned":
        return
    route = _route_edge(case, since.key)
    rest = rest_before(
        [read_program(row.document) for row in _programs(case, cure)],
        Rest(route.min_wait, _least(route), route.max_wait) if route else Rest(0, 0),
    )
    edge = CaseEdge.objects.filter(case=case, before=since.key, after=CURE).first()
    if edge is None:
        # The lab put a stage of its own between them: the rest is counted beside it.
        if rest.usual and CURE in reachable(edges_of(case), since.key):
            record.create(
                CaseEdge, case=case, before=since.key, after=CURE, min_wait=rest.usual,
                least_wait=rest.least, max_wait=rest.most,
            )  # fmt: skip
        return
    most = None if _cured_before(since, cure) else rest.most
    record.change(edge, min_wait=rest.usual, least_wait=rest.least, max_wait=most)


def rest_from(record: Recorder, case: Case, stage: CaseStage) -> None:
    """Let the rest begin with the end of ``stage``, where it is the one that it is counted from."""
    if stage.key in RESTS_SINCE:
        set_rest(record, case)


def _least(edge: PlannedEdge) -> float:
    return edge.min_wait if edge.least_wait is None else edge.least_wait


def _route_edge(case: Case, before: str) -> PlannedEdge | None:
    if case.design is None:
        return None
    grown = route_of(case, Plan.from_json(case.design.data))
    return next((one for one in grown.edges if (one.before, one.after) == (before, CURE)), None)


def _programs(case: Case, cure: CaseStage) -> list[CureProgram]:
    """Return the program of the load that the flask is in, or all that its resin may get."""
    flask = LoadFlask.objects.filter(stage=cure, left_at=None).select_related("load__program")
    for one in flask:
        return [one.load.program]
    resin = resin_of(case)
    return list(in_use().filter(resin=resin)) if resin else []


def _cured_before(since: CaseStage, cure: CaseStage) -> bool:
    """Tell whether this packing was in a bath already: it is no dough any more that could age."""
    if since.ended_at is None:
        return False
    return StageRun.objects.filter(stage=cure, begun_at__gte=since.ended_at).exists()
