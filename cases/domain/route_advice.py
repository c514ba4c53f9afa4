"""What a route may be, and had better not be: it is told, and nothing is kept from being saved."""

from __future__ import annotations

from collections.abc import Iterator

from cases.domain.following import reachable
from cases.domain.network import RouteTemplate
from cases.domain.route_problems import RouteProblem
from cases.domain.words import gettext as _

CURE, COOL, OPEN = "cure", "cool", "deflask"


def advice(template: RouteTemplate) -> list[RouteProblem]:
    """Return what a template lacks that keeps a hot flask shut, one sentence each.

    A load keeps its flasks shut by itself; a cure that nobody put into a load has only the waits of
    its route.
    """
    names = {stage.key: _(stage.name) for stage in template.stages}
    if CURE not in names or OPEN not in names:
        return []
    return list(_of_the_cure(template, names))


def _of_the_cure(template: RouteTemplate, names: dict[str, str]) -> Iterator[RouteProblem]:
    if COOL not in names:
        yield RouteProblem(
            f"stages.{OPEN}",
            _(
                "This route has no stage with the key “cool”, so only a load keeps a hot flask "
                "shut: put one between “%(before)s” and “%(after)s”, with its waits."
            )
            % {"before": names[CURE], "after": names[OPEN]},
        )
        return
    for before, after in ((CURE, COOL), (COOL, OPEN)):
        if not _waits(template, before, after):
            yield RouteProblem(
                f"edges.{before}.{after}",
                _(
                    "No wait leads from “%(before)s” to “%(after)s”, so only a load keeps a hot "
                    "flask shut: say at “%(after)s” that it comes after “%(before)s”, and how long "
                    "it waits."
                )
                % {"before": names[before], "after": names[after]},
            )


def _waits(template: RouteTemplate, before: str, after: str) -> bool:
    """Tell whether a wait stands on some way from one stage to the other."""
    behind = reachable(template.edges, before)
    return any(
        edge.min_wait > 0
        and edge.before in behind
        and after in reachable(template.edges, edge.after)
        for edge in template.edges
    )
