"""What a stage keeps busy or may not leave lying: things held, the one cast, the night."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from cases.domain.growth import PlannedStage, Route
from cases.domain.network import UNTIL_FINISH, UNTIL_WAIT, Night


def occupied_until(route: Route, key: str, thing: str) -> str:
    """Say until when the case keeps ``thing`` once stage ``key`` has begun.

    Returns
    -------
    str
        ``"finish"`` or ``"wait"`` of this stage, or the key of the stage whose finish frees
        it; empty where the stage does not hold it. A stage that only needs it for itself
        says the later stage when an earlier one holds it on.
    """
    order = {stage.spec.key: index for index, stage in enumerate(route.stages)}
    here = order[key]
    own = [held.until for held in route.stages[here].spec.holds if held.thing == thing]
    if not own:
        return ""
    until = max(own, key=lambda word: _last(word, here, order))
    for index, stage in enumerate(route.stages[:here]):
        for held in stage.spec.holds:
            last = _last(held.until, index, order)
            if held.thing == thing and last > _last(until, here, order):
                until = held.until
    return until


def _last(until: str, here: int, order: dict[str, int]) -> float:
    """The place of the last stage of a hold that begins at place ``here``.

    The two words for "this stage" come first: there is a stage whose key is "finish", too.
    """
    if until == UNTIL_FINISH:
        return here
    return here + 0.5 if until == UNTIL_WAIT else order[until]


def occupied_stages(route: Route, thing: str) -> frozenset[str]:
    """Return the keys of the stages during which the case keeps ``thing`` occupied."""
    order = {stage.spec.key: index for index, stage in enumerate(route.stages)}
    busy: set[str] = set()
    for index, stage in enumerate(route.stages):
        for held in stage.spec.holds:
            if held.thing == thing:
                last = int(_last(held.until, index, order))
                busy |= {later.spec.key for later in route.stages[index : last + 1]}
    return frozenset(busy)


def one_cast(stages: Iterable[PlannedStage]) -> frozenset[str]:
    """Return the keys of the stages that need the working cast in hand: never two at once."""
    return frozenset(stage.spec.key for stage in stages if stage.spec.needs_cast)


def rests_overnight(route: Route, key: str) -> tuple[Night, str]:
    """Say whether the work may rest overnight once stage ``key`` is the last one done.

    Returns
    -------
    tuple
        ``"yes"``, ``"no"`` or ``"limit"`` (only under the condition in the words), and words.
    """
    spec = route.stage(key).spec
    return spec.night, spec.night_words


def batch_minutes(stages: Sequence[PlannedStage]) -> float:
    """Return the attended minutes of one stage done for several cases together.

    The fixed part is shared where the stage is one that is done in batches; the rest counts
    for each case. A load takes ``more_each`` for every case after the first. Fixed part
    shared: common practice, no published source.

    Raises
    ------
    ValueError
        The stages are not all the same one.
    """
    if not stages:
        return 0.0
    first = stages[0].spec
    if any(stage.spec.key != first.key for stage in stages):
        raise ValueError("Only one stage at a time is done for several cases together.")
    total = sum(stage.minutes for stage in stages)
    if not first.batch:
        return total
    formula = first.minutes.get("*", {})
    shared = formula.get("fixed", 0) * (len(stages) - 1)
    return total - shared + first.more_each * (len(stages) - 1)
