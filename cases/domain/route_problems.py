"""What is wrong with an edited route, and what changed from one version to the next."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

from cases.domain.check_spec import CheckSpec, Measure
from cases.domain.conditions import CONDITIONS, holds
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.judgement import RULES
from cases.domain.network import (
    COUNT_WORDS,
    METHODS,
    NIGHTS,
    STAGE_KINDS,
    THINGS,
    UNTIL_FINISH,
    UNTIL_WAIT,
    EdgeSpec,
    RouteTemplate,
    StageSpec,
)
from cases.domain.plan_checks import DESIGN_LIMITS
from cases.domain.subjects import SUBJECTS
from cases.domain.words import gettext as _


@dataclass(frozen=True)
class RouteProblem:
    """Why a template cannot be saved: the field concerned and a sentence with the way out."""

    field: str
    sentence: str


def problems(template: RouteTemplate, skills: Mapping[str, Collection[str]]) -> list[RouteProblem]:
    """Return what is wrong with an edited template.

    ``skills`` maps each skill to the names of the people who have it. A cycle, an
    unreachable stage, an unknown condition, a check on an unknown stage, a skill that
    nobody has are problems.
    """
    found = [*_twice(template)]
    for stage in template.stages:
        found += _stage_problems(stage, template, skills)
    for edge in template.edges:
        found += _edge_problems(edge, template)
    for check in template.checks:
        found += _check_problems(check, template)
    if not template.stages:
        found.append(RouteProblem("stages", _("A route needs at least one stage.")))
    if not found:
        found += _network_problems(template)
    return found


def _twice(template: RouteTemplate) -> Iterator[RouteProblem]:
    for key, count in Counter(stage.key for stage in template.stages).items():
        if count > 1:
            yield RouteProblem(
                f"stages.{key}.key",
                _("Two stages have the key “%(key)s”. Rename one of them.") % {"key": key},
            )
    for number, count in Counter(check.number for check in template.checks).items():
        if count > 1:
            yield RouteProblem(
                f"checks.{number}.number",
                _("Two checks have the number %(number)s. Give one of them another number.")
                % {"number": number},
            )


def _unknown_condition(field: str, when: str, owner: str) -> Iterator[RouteProblem]:
    if when not in CONDITIONS:
        yield RouteProblem(
            field,
            _("%(owner)s: nobody knows the condition “%(when)s”. Choose one from the list.")
            % {"owner": owner, "when": when},
        )


def _stage_problems(
    stage: StageSpec, template: RouteTemplate, skills: Mapping[str, Collection[str]]
) -> Iterator[RouteProblem]:
    field = f"stages.{stage.key}"
    owner = _("Stage “%(stage)s”") % {"stage": stage.name or stage.key}
    if not stage.key or not stage.name:
        yield RouteProblem(
            f"{field}.name", _("%(owner)s needs a key and a name.") % {"owner": owner}
        )
    yield from _unknown_condition(f"{field}.when", stage.when, owner)
    yield from _unknown_condition(f"{field}.photo_when", stage.photo_when, owner)
    if stage.kind not in STAGE_KINDS:
        yield RouteProblem(
            f"{field}.kind",
            _("%(owner)s: nobody knows the kind “%(kind)s”.")
            % {"owner": owner, "kind": stage.kind},
        )
    if stage.night not in NIGHTS:
        yield RouteProblem(
            f"{field}.night",
            _("%(owner)s: answer yes, no or limit for the night.") % {"owner": owner},
        )
    if stage.kind != "external" and not skills.get(stage.skill):
        yield RouteProblem(
            f"{field}.skill",
            _(
                "%(owner)s needs the skill “%(skill)s”, and nobody has it. Give it to a "
                "person, or choose another skill."
            )
            % {"owner": owner, "skill": stage.skill},
        )
    for exception in stage.night_when:
        yield from _unknown_condition(f"{field}.night_when", exception.when, owner)
    yield from _minutes_problems(stage, field, owner)
    keys = {other.key for other in template.stages}
    if stage.other_than and stage.other_than not in keys:
        yield RouteProblem(
            f"{field}.other_than",
            _("%(owner)s is not for who did “%(other_than)s”, and there is no such stage.")
            % {"owner": owner, "other_than": stage.other_than},
        )
    for held in stage.holds:
        yield from _unknown_condition(f"{field}.holds", held.when, owner)
        if held.thing not in THINGS:
            yield RouteProblem(
                f"{field}.holds",
                _("%(owner)s holds “%(thing)s”: nobody knows it.")
                % {"owner": owner, "thing": held.thing},
            )
        if held.until not in {UNTIL_FINISH, UNTIL_WAIT} | keys:
            yield RouteProblem(
                f"{field}.holds",
                _(
                    "%(owner)s holds the %(thing)s until “%(until)s”, and there is no such stage. "
                    "Choose one of the route."
                )
                % {"owner": owner, "thing": held.thing, "until": held.until},
            )


def _minutes_problems(stage: StageSpec, field: str, owner: str) -> Iterator[RouteProblem]:
    missing = [m for m in METHODS if m not in stage.minutes and "*" not in stage.minutes]
    if missing:
        yield RouteProblem(
            f"{field}.minutes",
            _(
                "%(owner)s has no minutes for the block-out %(method)s. Enter them, or a "
                "formula for every method."
            )
            % {"owner": owner, "method": missing[0]},
        )
    for formula in stage.minutes.values():
        for letter, coefficient in formula.items():
            if letter not in COUNT_WORDS:
                yield RouteProblem(
                    f"{field}.minutes",
                    _("%(owner)s: the minutes count “%(letter)s”: nobody knows it.")
                    % {"owner": owner, "letter": letter},
                )
            elif coefficient < 0:
                yield RouteProblem(
                    f"{field}.minutes",
                    _("%(owner)s: minutes are never less than 0.") % {"owner": owner},
                )


def _edge_problems(edge: EdgeSpec, template: RouteTemplate) -> Iterator[RouteProblem]:
    names = {stage.key: stage.name for stage in template.stages}
    field = f"edges.{edge.before}.{edge.after}"
    ends = [names.get(key, key) for key in (edge.before, edge.after)]
    owner = _("“%(before)s” before “%(after)s”") % {"before": ends[0], "after": ends[1]}
    for key in (edge.before, edge.after):
        if key not in names:
            yield RouteProblem(
                field,
                _("%(owner)s: there is no stage “%(key)s”. Choose one.")
                % {"owner": owner, "key": key},
            )
    yield from _unknown_condition(field, edge.when, owner)
    if edge.min_wait < 0:
        yield RouteProblem(
            field, _("%(owner)s: a wait is never less than 0 minutes.") % {"owner": owner}
        )
    if edge.max_wait is not None and edge.max_wait < edge.min_wait:
        yield RouteProblem(
            field,
            _(
                "%(owner)s: it should start at the latest after %(max_wait)g min, but may not "
                "start before %(min_wait)g min. Shorten the wait or move the limit."
            )
            % {"owner": owner, "max_wait": edge.max_wait, "min_wait": edge.min_wait},
        )
    if edge.least_wait is not None and not 0 <= edge.least_wait <= edge.min_wait:
        yield RouteProblem(
            field,
            _("%(owner)s: the least wait should lie between 0 and %(min_wait)g min.")
            % {"owner": owner, "min_wait": edge.min_wait},
        )


def _check_problems(check: CheckSpec, template: RouteTemplate) -> Iterator[RouteProblem]:
    field, owner = f"checks.{check.number}", _("Check %(number)s") % {"number": check.number}
    keys = {stage.key for stage in template.stages}
    for stage in (check.stage, *(again.stage for again in check.again)):
        if stage not in keys:
            yield RouteProblem(
                f"{field}.stage",
                _("%(owner)s is asked at “%(stage)s”, which is no stage. Choose one.")
                % {"owner": owner, "stage": stage},
            )
    for when in (check.when, *(again.when for again in check.again)):
        yield from _unknown_condition(f"{field}.when", when, owner)
    if check.subjects not in SUBJECTS:
        yield RouteProblem(
            f"{field}.subjects",
            _("%(owner)s: nobody knows the subjects “%(subjects)s”.")
            % {"owner": owner, "subjects": check.subjects},
        )
    for rule in {check.rule, *(again.rule for again in check.again if again.rule)} - set(RULES):
        yield RouteProblem(
            f"{field}.rule",
            _("%(owner)s: nobody knows the rule “%(rule)s”.") % {"owner": owner, "rule": rule},
        )
    if not (check.yes_no or check.measures or check.photo):
        yield RouteProblem(
            field,
            _("%(owner)s asks for nothing: choose yes or no, a number or a photograph.")
            % {"owner": owner},
        )
    measures = [*check.measures]
    for again in check.again:
        measures += again.measures
        asked = {measure.key for measure in again.measures or check.measures}
        for key, (low, high) in (again.limits or {}).items():
            yield from _limit_problems(field, owner, low, high)
            if key not in asked:
                yield RouteProblem(
                    f"{field}.again",
                    _("%(owner)s has a limit for “%(key)s”, which is not measured at “%(stage)s”.")
                    % {"owner": owner, "key": key, "stage": again.stage},
                )
    for measure in measures:
        yield from _measure_problems(field, owner, measure)


def _measure_problems(field: str, owner: str, measure: Measure) -> Iterator[RouteProblem]:
    if measure.from_design and measure.from_design not in DESIGN_LIMITS:
        yield RouteProblem(
            f"{field}.measures",
            _("%(owner)s: nobody knows the limit “%(from_design)s”.")
            % {"owner": owner, "from_design": measure.from_design},
        )
    yield from _limit_problems(field, owner, measure.low, measure.high)


def _limit_problems(
    field: str, owner: str, low: float | None, high: float | None
) -> Iterator[RouteProblem]:
    if low is not None and high is not None and low > high:
        yield RouteProblem(
            f"{field}.measures",
            _("%(owner)s: the lower limit %(low)g is above the upper limit %(high)g.")
            % {"owner": owner, "low": low, "high": high},
        )


def _samples() -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    """Yield what shapes order and design: nothing, everything, and each thing alone."""
    order_parts: list[dict[str, Any]] = [
        {"opposing": True}, {"alginate": True}, {"bite": "rim"}, {"try_in": True},
        {"polish": "all-outer"},
    ]  # fmt: skip
    missing: dict[str, Any] = {"missing": frozenset({36}), "replaced": frozenset({36})}
    design_parts: list[dict[str, Any]] = [
        missing, {**missing, "extracted": frozenset({36})}, {"clasps": (Clasp(35),)},
        {"bar": True}, {"clasps": (Clasp(35),), "joints": 1}, {"needs_agreement": True},
        {"copy_in": "gel"},
    ]  # fmt: skip
    every_order = {key: value for part in order_parts for key, value in part.items()}
    every_design = {key: value for part in design_parts for key, value in part.items()}
    yield {}, {}
    yield every_order, every_design
    yield from ((part, {}) for part in order_parts)
    yield from (({}, part) for part in design_parts)


def sample_cases() -> Iterator[tuple[WorkOrder, Design]]:
    """Yield orders and designs that between them make every condition true and false."""
    plain = WorkOrder(opposing=False, alginate=False, polish="none")
    kinds = [("new", ""), ("adjustment", ""), ("repair", ""), ("addition", "")]
    kinds += [("remake", start) for start in ("new-impression", "kept-master", "kept-wax-index")]
    ways = list(product((True, False), repeat=3))
    for (kind, start), method in product(kinds, METHODS):
        for number, (order_part, design_part) in enumerate(_samples()):
            design = Design(arch="lower", **{"method": method, **design_part})
            # The ways a case can arrive need to meet only "nothing" and "everything".
            for came, scan, proven in ways if number < 2 else ways[:1]:
                arrival = {
                    "kind": kind, "remake_start": start, "impressions_came": came,
                    "scan": scan, "disinfection_proven": proven,
                }  # fmt: skip
                yield replace(plain, **{**arrival, **order_part}), design


def _network_problems(template: RouteTemplate) -> list[RouteProblem]:
    """Cycles and dead ends, for every kind of case that the conditions can make."""
    names = {stage.key: stage.name for stage in template.stages}
    found: dict[tuple[str, str], RouteProblem] = {}
    seen: set[tuple[bool, ...]] = set()
    asked = sorted({e.when for e in template.edges} | {s.when for s in template.stages})
    for order, design in sample_cases():
        truth = tuple(holds(when, order, design) for when in asked)
        if truth in seen:
            continue
        seen.add(truth)
        true = {when for when, value in zip(asked, truth, strict=True) if value}
        edges = [edge for edge in template.edges if edge.when in true]
        present = [stage.key for stage in template.stages if stage.when in true]
        for problem in _case_problems(edges, present, names):
            found.setdefault((problem.field, problem.sentence), problem)
        if any(problem.field == "edges" for problem in found.values()):
            break
    return list(found.values())


def _case_problems(
    edges: list[EdgeSpec], present: list[str], names: Mapping[str, str]
) -> Iterator[RouteProblem]:
    cycle = _cycle(edges)
    if cycle:
        path = " → ".join(names[key] for key in [*cycle, cycle[0]])
        yield RouteProblem(
            "edges",
            _("These stages wait for each other: %(path)s. Take one of the arrows away.")
            % {"path": path},
        )
        return
    forward = _widest(edges, names, forward=True)
    back = _widest(edges, names, forward=False)
    for key in present:
        if key not in forward:
            yield RouteProblem(
                f"stages.{key}",
                _("Nothing leads to “%(stage)s”. Say after which stage it comes.")
                % {"stage": names[key]},
            )
        elif key not in back:
            yield RouteProblem(
                f"stages.{key}",
                _("“%(stage)s” leads nowhere. Say which stage comes after it.")
                % {"stage": names[key]},
            )


def _widest(edges: list[EdgeSpec], keys: Iterable[str], *, forward: bool) -> set[str]:
    """What the true start (or end) reaches: of several open ends the one that reaches most."""
    taken = {edge.after if forward else edge.before for edge in edges}
    ends = [key for key in keys if key not in taken]
    return max((_spread(end, edges, forward=forward) for end in ends), key=len, default=set())


def _spread(start: str, edges: Iterable[EdgeSpec], *, forward: bool) -> set[str]:
    step: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        one, other = (edge.before, edge.after) if forward else (edge.after, edge.before)
        step[one].append(other)
    found, rest = {start}, [start]
    while rest:
        new = [key for key in step[rest.pop()] if key not in found]
        found.update(new)
        rest += new
    return found


def _cycle(edges: Iterable[EdgeSpec]) -> list[str]:
    """Return the stages of one cycle in order, or an empty list."""
    after: dict[str, list[str]] = defaultdict(list)
    for edge in edges:
        after[edge.before].append(edge.after)
    done: set[str] = set()
    for root in list(after):
        path: list[str] = []
        stack: list[tuple[str, int]] = [(root, 0)]
        while stack:
            key, index = stack.pop()
            del path[len(stack) :]
            if index == 0:
                if key in path:
                    return path[path.index(key) :]
                if key in done:
                    continue
            path.append(key)
            if index < len(after[key]):
                stack += [(key, index + 1), (after[key][index], 0)]
            else:
                done.add(key)
    return []
