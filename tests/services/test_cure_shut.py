"""A flask stays shut while its load is in the bath or hot, however the lab leads its route."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from cases.domain.cure.program import LONG
from cases.domain.route import EdgeSpec, RouteTemplate
from cases.models import Case, CaseEdge, Load, Resin, RouteVersion
from cases.services import route_edit
from cases.services.batch import finish_many
from cases.services.load_run import shorten_wait, take_out
from cases.services.record import Outcome, Recorder, Refusal
from cases.services.stage import finish_stage, start_stage
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, answers, make_shop, rows
from tests.services.test_load import Bench, code_of, stage_of
from tests.services.test_load_longer import longer

pytestmark = pytest.mark.django_db

WHY = "The practice waits at the door. Pavo"
ROUTES = {
    "default": ("cool", "deflask"),
    "dip-after": ("cool", "dip", "deflask"),
    "look-before": ("peer", "cool", "deflask"),
    "no-cool": ("deflask",),
}


def _led(template: RouteTemplate, route: str) -> RouteTemplate:
    cool = next(stage for stage in template.stages if stage.key == "cool")
    if route == "no-cool":
        short = route_edit.drop_stage(template, "cool")
        free = [
            replace(stage, holds=tuple(one for one in stage.holds if one.until != "cool"))
            for stage in short.stages
        ]
        return replace(short, stages=tuple(free))
    key, before, after = {
        "dip-after": ("dip", "cool", "deflask"),
        "look-before": ("peer", "cure", "cool"),
    }[route]
    own = replace(cool, key=key, name=key.title())
    longer = route_edit.put_stage(template, own, [EdgeSpec(before, key)])
    edges = [one for one in longer.edges if (one.before, one.after) != (before, after)]
    return route_edit.lead_on(replace(longer, edges=tuple(edges)), key, [after])


def bench_with(route: str, cases: int = 1) -> Bench:
    """Return a lab that leads its route so, with cases before their cure."""
    shop: Shop = make_shop()
    if route != "default":
        known = RouteVersion.objects.latest("version")
        led = _led(RouteTemplate.from_json(known.document), route)

        def save(record: Recorder) -> dict[str, object]:
            version = known.version + 1
            made = record.create(
                RouteVersion, version=version, document=led.to_json(), saved_at=NOW
            )
            return {"route": made}

        rows(save)
    return Bench(shop, cases=cases)


def start(bench: Bench, key: str) -> Outcome:
    row = stage_of(bench.cases[0], key)
    return bench.do(start_stage, stage=row.pk, version=row.version)


def finish(bench: Bench, key: str) -> Outcome:
    row = stage_of(bench.cases[0], key)
    return bench.do(finish_stage, stage=row.pk, version=row.version, checks=answers(row))


def do(bench: Bench, key: str) -> None:
    start(bench, key)
    assert finish(bench, key).result["finished"]


def concede(bench: Bench, key: str) -> None:
    row = stage_of(bench.cases[0], key)
    bench.do(shorten_wait, stage=row.pk, version=row.version, words=WHY)


def out(bench: Bench, load: Load) -> None:
    load.refresh_from_db()
    bench.do(take_out, load=load.number, version=load.version)
    load.refresh_from_db()


def without_waits(case: Case) -> None:
    """Let no edge of the route wait, so that only the load speaks."""

    def change(record: Recorder) -> dict[str, object]:
        for edge in CaseEdge.objects.filter(case=case):
            record.change(edge, min_wait=0, least_wait=0)
        for stage in case.stages.filter(state="planned").exclude(ready_at=None):
            record.change(stage, may_from=stage.ready_at)
        return {}

    rows(change)


@pytest.mark.parametrize("route", ROUTES)
def test_flask_is_not_opened_in_the_bath_nor_hot(route: str) -> None:
    bench = bench_with(route)
    load = bench.started()
    assert load.ends_at
    bench.now += timedelta(minutes=1)
    began = []
    for key in ROUTES[route]:
        try:
            do(bench, key)
        except Refusal:
            break
        began.append(key)
    assert began == (["peer"] if route == "look-before" else [])

    bench.now = load.ends_at + timedelta(minutes=1)
    out(bench, load)
    for key in ROUTES[route][:-1]:
        if stage_of(bench.cases[0], key).state == "planned":
            do(bench, key)
    bench.now += timedelta(minutes=LONG.cooling_minutes - 1)
    assert code_of(lambda: start(bench, "deflask")) == "waiting"
    bench.now += timedelta(minutes=1)
    start(bench, "deflask")
    assert verify_record() == []


def test_load_is_asked_where_no_edge_waits() -> None:
    bench = bench_with("default")
    load = bench.started()
    without_waits(bench.cases[0])
    assert load.ends_at
    assert code_of(lambda: start(bench, "cool")) == "waiting"
    bench.now = load.ends_at
    do(bench, "cool")
    without_waits(bench.cases[0])

    with pytest.raises(Refusal) as refused:
        start(bench, "deflask")

    assert refused.value.code == "in-bath"
    assert refused.value.sentence == (
        f"By the record the flask is in the bath. Note first that load {load.number} is out."
    )
    bench.now += timedelta(minutes=LONG.cooling_minutes)
    assert code_of(lambda: start(bench, "deflask")) == "in-bath"
    out(bench, load)
    # It left the bath when its cooling was noted, not when the load was.
    start(bench, "deflask")


def test_opening_in_the_bath_may_be_conceded_with_a_reason() -> None:
    bench = bench_with("default")
    load = bench.started()
    assert load.ends_at
    bench.now = load.ends_at
    do(bench, "cool")
    without_waits(bench.cases[0])

    concede(bench, "deflask")

    start(bench, "deflask")
    assert stage_of(bench.cases[0], "deflask").state == "running"


def test_flask_that_was_conceded_out_of_the_bath_cools_before_it_is_opened() -> None:
    bench = bench_with("default")
    bench.started()
    bench.now += timedelta(minutes=5)
    concede(bench, "cool")
    do(bench, "cool")
    without_waits(bench.cases[0])

    assert code_of(lambda: start(bench, "deflask")) == "waiting"
    bench.now += timedelta(minutes=LONG.cooling_minutes)
    start(bench, "deflask")


def test_openings_that_were_begun_are_not_finished_in_the_bath() -> None:
    bench = bench_with("default", cases=2)
    bench.started()
    cases = list(bench.cases)
    for bench.cases in [[case] for case in cases]:
        concede(bench, "cool")
        do(bench, "cool")
    bench.now += timedelta(minutes=LONG.cooling_minutes)
    for bench.cases in [[case] for case in cases]:
        start(bench, "deflask")

    def forget(record: Recorder) -> dict[str, object]:
        # As of before the load was asked: no cooling is noted.
        for case in cases:
            record.change(stage_of(case, "cool"), state="skipped")
        return {}

    rows(forget)
    opened = [stage_of(case, "deflask") for case in cases]
    body = [{"stage": row.pk, "version": row.version} for row in opened]

    assert code_of(lambda: finish(bench, "deflask")) == "waiting"
    with pytest.raises(Refusal) as refused:
        bench.do(finish_many, stages=body)
    assert refused.value.code == "waiting"
    assert refused.value.sentence.startswith(f"{cases[0].number}: The program of load 1 runs until")


def test_case_without_a_cooling_waits_from_when_its_load_was_taken_out() -> None:
    bench = bench_with("no-cool")
    load = bench.started()
    assert load.ends_at
    bench.now = load.ends_at + timedelta(minutes=40)

    out(bench, load)

    opening = stage_of(bench.cases[0], "deflask")
    assert opening.may_from == opening.ready_at == load.open_from
    assert load.open_from == bench.now + timedelta(minutes=LONG.cooling_minutes)
    assert verify_record() == []


def test_opening_that_was_conceded_is_not_held_when_its_load_is_taken_out() -> None:
    bench = bench_with("no-cool")
    load = bench.started()
    assert load.ends_at
    bench.now = load.ends_at + timedelta(minutes=1)
    concede(bench, "deflask")
    bench.now += timedelta(minutes=1)

    out(bench, load)

    start(bench, "deflask")
    assert verify_record() == []


def test_case_without_a_cooling_waits_longer_with_its_load() -> None:
    bench = bench_with("no-cool")
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=True)})
    load = bench.started()
    was = stage_of(bench.cases[0], "deflask").may_from

    longer(bench, load)

    load.refresh_from_db()
    opening = stage_of(bench.cases[0], "deflask")
    assert was is not None
    assert opening.may_from == was + timedelta(minutes=45)
    assert opening.may_from == load.open_from
