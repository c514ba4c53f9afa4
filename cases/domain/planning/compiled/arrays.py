"""A shop as arrays, for compiled code: lists of lists lie end to end, with where each begins.

Of ``x_from`` and ``x``, the entries of number ``at`` are ``x[x_from[at]:x_from[at + 1]]``. All
times are minutes; numbers are those of the shop; -1 is nobody or nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from cases.domain.planning.shop import NEVER, Shop

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

ATTENDED, UNATTENDED, LOAD, EXTERNAL = 0, 1, 2, 3
KINDS = {"attended": ATTENDED, "unattended": UNATTENDED, "load": LOAD, "external": EXTERNAL}


class Cases(NamedTuple):
    """The cases of a shop in arrays; ``own`` are the stages of each."""

    due: Ints
    weight: Floats
    release: Ints
    own_from: Ints
    own: Ints
    vans_from: Ints
    vans: Ints
    pairs: Ints
    """Two columns of cases that leave together."""


class Numbers(NamedTuple):
    """A shop in arrays. Of stages where nothing else is said."""

    kind: Ints
    case: Ints
    minutes: Ints
    setup: Ints
    sign: Ints
    skill: Ints
    station: Ints
    batch: Ints
    program: Ints
    pausable: Flags
    release: Ints
    latest: Ints
    flawed: Flags
    last_by: Ints
    other_than: Ints
    pinned: Flags
    pin_person: Ints
    pin_start: Ints
    """NEVER where no minute is pinned."""
    running: Flags
    run_start: Ints
    run_end: Ints
    run_person: Ints
    run_bath: Ints

    before_from: Ints
    before: Ints
    before_least: Ints
    before_most: Ints
    """NEVER where no last moment is said."""
    followers_from: Ints
    followers: Ints
    takes_from: Ints
    takes: Ints
    gives_from: Ints
    gives: Ints
    gives_rest: Ints
    may_do_from: Ints
    may_do: Ints
    signers_from: Ints
    signers: Ints
    """Who may countersign a stage, nobody where it needs none."""
    fits_from: Ints
    fits: Ints
    fits_minutes: Ints
    """Who may do a stage alone, the quickest first; those of not attended stages are none."""
    may: Flags
    """By stage and person."""
    eyes: Flags
    """By stage and person: who can give a second pair of eyes."""

    blocks_from: Ints
    blocks: Ints
    block_of: Ints
    """Of each stage, -1 for those that run."""

    hours_from: Ints
    hours_starts: Ints
    hours_ends: Ints
    worked_before: Ints
    worked: Ints
    """Of each person."""
    pace: Floats
    """By person and skill, 0 where he does not have it."""
    skills: Ints
    """How many skills each person has."""
    student: Flags

    station_count: Ints
    thing_count: Ints
    held_now: Ints
    limits: Ints
    """Of each batch by number: how many at once."""
    program_minutes: Ints
    program_hands: Ints
    bath_places: Ints
    baths_for_from: Ints
    baths_for: Ints
    """Of each program."""

    cases: Cases
    horizon: int


def ints(values: Iterable[int]) -> Ints:
    """Return whole numbers as an array."""
    return np.fromiter(values, np.int64)


def end_to_end(lists: Sequence[Sequence[int]]) -> tuple[Ints, Ints]:
    """Return where each list begins, and all entries end to end."""
    starts = np.zeros(len(lists) + 1, np.int64)
    np.cumsum(ints(len(one) for one in lists), out=starts[1:])
    return starts, ints(entry for one in lists for entry in one)


def numbered(names: Iterable[str]) -> dict[str, int]:
    """Return the number of each name, in their order."""
    return {name: at for at, name in enumerate(names)}


def numbers_of(shop: Shop) -> Numbers:
    """Return a shop in arrays; programs are numbered in the order in which the shop has them."""
    stages, problem = shop.stages, shop.problem
    skill = numbered(sorted({*shop.skilled, *(stage.skill for stage in stages)}))
    batch = numbered(sorted({stage.batch for stage in stages if stage.batch}))
    program = numbered(shop.programs)
    baths = numbered(bath.key for bath in problem.baths)
    count, persons = len(stages), len(problem.persons)

    may = np.zeros((count, persons), np.bool_)
    eyes = np.zeros((count, persons), np.bool_)
    for at, who in enumerate(shop.may_do):
        may[at, who] = True
    for at, able in shop.eyes.items():
        eyes[at, sorted(able)] = True
    pace = np.zeros((persons, len(skill)))
    for at, paces in enumerate(shop.paces):
        for name, value in paces.items():
            pace[at, skill[name]] = value
    runs = [stage.running for stage in stages]
    pins = [stage.pin for stage in stages]
    fits = [shop.fits(at) if one.kind == "attended" else [] for at, one in enumerate(stages)]
    lists: dict[str, Any] = {}
    for field, of in (
        ("before", [[one for one, _, _ in before] for before in shop.before]),
        ("followers", shop.followers),
        ("takes", shop.takes),
        ("gives", [[thing for thing, _ in gives] for gives in shop.gives]),
        ("may_do", shop.may_do),
        ("signers", shop.signers),
        ("fits", [[one for _, one in own] for own in fits]),
        ("blocks", shop.blocks),
        ("baths_for", [shop.baths_for[name] for name in program]),
    ):
        lists[f"{field}_from"], lists[field] = end_to_end(of)
    lists["hours_from"], lists["hours_starts"] = end_to_end([one.starts for one in shop.hours])
    for field, spans in (
        ("hours_ends", [one.ends for one in shop.hours]),
        ("worked_before", [one.worked_before for one in shop.hours]),
        ("worked", [one.worked for one in shop.hours]),
    ):
        lists[field] = end_to_end(spans)[1]
    return Numbers(
        kind=ints(KINDS[one.kind] for one in stages),
        case=ints(shop.case),
        minutes=ints(one.minutes for one in stages),
        setup=ints(one.setup for one in stages),
        sign=ints(one.sign for one in stages),
        skill=ints(skill[one.skill] for one in stages),
        station=ints(shop.station),
        batch=ints(batch.get(one.batch, -1) for one in stages),
        program=ints(program.get(one.program, -1) for one in stages),
        pausable=np.fromiter((one.pausable for one in stages), np.bool_),
        release=ints(shop.release),
        latest=ints(shop.latest),
        flawed=np.fromiter((one.key in shop.flawed for one in stages), np.bool_),
        last_by=ints(shop.last_by),
        other_than=ints(shop.other_than),
        pinned=np.fromiter((pin is not None for pin in pins), np.bool_),
        pin_person=ints(-1 if pin is None else shop.person.get(pin.person, -1) for pin in pins),
        pin_start=ints(NEVER if pin is None or pin.start is None else pin.start for pin in pins),
        running=np.fromiter((run is not None for run in runs), np.bool_),
        run_start=ints(0 if run is None else run.start for run in runs),
        run_end=ints(0 if run is None else run.end for run in runs),
        run_person=ints(-1 if run is None else shop.person.get(run.person, -1) for run in runs),
        run_bath=ints(-1 if run is None else baths.get(run.bath, -1) for run in runs),
        before_least=ints(least for before in shop.before for _, least, _ in before),
        before_most=ints(
            NEVER if most is None else most for before in shop.before for _, _, most in before
        ),
        gives_rest=ints(rest for gives in shop.gives for _, rest in gives),
        fits_minutes=ints(minutes for own in fits for minutes, _ in own),
        may=may,
        eyes=eyes,
        block_of=ints(shop.block_of.get(at, -1) for at in range(count)),
        pace=pace,
        skills=ints(len(own) for own in shop.skills),
        student=np.array(shop.student, np.bool_),
        station_count=ints(shop.station_count),
        thing_count=ints(shop.thing_count),
        held_now=ints(shop.held_now),
        limits=ints(shop.limits.get(name, len(shop.blocks)) for name in batch),
        program_minutes=ints(shop.programs[name].minutes for name in program),
        program_hands=ints(shop.programs[name].hands for name in program),
        bath_places=ints(bath.places for bath in problem.baths),
        cases=_cases_of(shop),
        horizon=problem.horizon,
        **lists,
    )


def _cases_of(shop: Shop) -> Cases:
    cases = shop.problem.cases
    own_from, own = end_to_end(shop.own)
    vans_from, vans = end_to_end([case.vans for case in cases])
    return Cases(
        due=ints(case.due for case in cases),
        weight=np.array([case.weight for case in cases], np.float64),
        release=ints(case.release for case in cases),
        own_from=own_from,
        own=own,
        vans_from=vans_from,
        vans=vans,
        pairs=np.array(shop.pairs, np.int64).reshape(-1, 2),
    )


_known: WeakKeyDictionary[Shop, Numbers] = WeakKeyDictionary()


def of_shop(shop: Shop) -> Numbers:
    """Return the same, put together when it is first asked for: later changes are not in it."""
    found = _known.get(shop)
    if found is None:
        found = _known[shop] = numbers_of(shop)
    return found
