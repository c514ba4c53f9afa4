"""The route: from the stage network of the lab and one design to the work of one case.

The template is data that the lab edits; ``grow`` is the one pure function that turns
template, order and design into stages, edges, minutes and checks. This module is the door to
the subject; the parts live beside it.
"""

from __future__ import annotations

from cases.domain.conditions import CONDITION_WORDS, CONDITIONS, holds
from cases.domain.following import Readiness, StageFact, nearest_open, reachable, readiness
from cases.domain.growth import PlannedEdge, PlannedStage, Route, grow, topological
from cases.domain.network import (
    COUNT_WORDS,
    THINGS,
    EdgeSpec,
    Held,
    Night,
    NightWhen,
    RouteTemplate,
    StageKind,
    StageSpec,
    latest_words,
    minutes_of,
)
from cases.domain.occupation import (
    batch_minutes,
    occupied_stages,
    occupied_until,
    one_cast,
    rests_overnight,
)
from cases.domain.route_changes import difference
from cases.domain.route_data import SKILLS, STATIONS, default_template
from cases.domain.route_problems import RouteProblem, problems

__all__ = [
    "CONDITIONS",
    "CONDITION_WORDS",
    "COUNT_WORDS",
    "SKILLS",
    "STATIONS",
    "THINGS",
    "EdgeSpec",
    "Held",
    "Night",
    "NightWhen",
    "PlannedEdge",
    "PlannedStage",
    "Readiness",
    "Route",
    "RouteProblem",
    "RouteTemplate",
    "StageFact",
    "StageKind",
    "StageSpec",
    "batch_minutes",
    "default_template",
    "difference",
    "grow",
    "holds",
    "latest_words",
    "minutes_of",
    "nearest_open",
    "occupied_stages",
    "occupied_until",
    "one_cast",
    "problems",
    "reachable",
    "readiness",
    "rests_overnight",
    "topological",
]
