"""What the route that comes with the program asks for and a laboratory's own does not yet."""

from __future__ import annotations

from dataclasses import replace

from cases.domain.check_spec import CheckSpec
from cases.domain.network import RouteTemplate
from cases.domain.route_data import default_template


def unknown_checks(template: RouteTemplate) -> tuple[CheckSpec, ...]:
    """Return the shipped checks that a template has no check of that number for.

    A check of a stage that the laboratory took out is none of them, and a later look at such a
    stage is left out of the others.
    """
    stages = {stage.key for stage in template.stages}
    numbers = {check.number for check in template.checks}
    return tuple(
        replace(check, again=tuple(look for look in check.again if look.stage in stages))
        for check in default_template().checks
        if check.number not in numbers and check.stage in stages
    )


def with_checks(template: RouteTemplate, checks: tuple[CheckSpec, ...]) -> RouteTemplate:
    """Return a template with more checks, all in the order of their numbers."""
    both = (*template.checks, *checks)
    return replace(template, checks=tuple(sorted(both, key=lambda check: check.number)))
