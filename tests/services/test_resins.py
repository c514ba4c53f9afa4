"""Resins, their programs and the checks of probes: versions, reasons, refusals."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from cases.domain.cure.program import LONG, SHORT, Hold, Program, as_json, read_program
from cases.models import Bath, CureProgram, Event, Lab, ProbeCheck, Resin
from cases.services.probes import check_probe
from cases.services.resins import retire_program, save_program, save_resin
from cases.services.verify_record import verify_record
from tests.factories import NOW, Shop, make_shop
from tests.services.test_tablets import refused

pytestmark = pytest.mark.django_db

TODAY = NOW.date()


@pytest.fixture
def shop() -> Shop:
    return make_shop()


def make_resin(shop: Shop, name: str = "Rosewood base", **values: Any) -> int:
    """Save a resin; return its key."""
    return int(save_resin(shop.envelope("pavo"), name=name, **values).result["resin"])


def save(shop: Shop, resin: int, program: Program, **more: Any) -> int:
    """Save a program; return the key of its version."""
    made = save_program(shop.envelope("pavo"), resin=resin, program=as_json(program), **more)
    return int(made.result["program"])


def test_resin_is_added_and_changed(shop: Shop) -> None:
    pk = make_resin(shop, source="Leaflet 3", compared_on=TODAY.isoformat(), ratio_low=2.2)
    make = shop.envelope("pavo")
    save_resin(make, resin=pk, name="Rosewood base", source="Leaflet 4", resumable=True)

    row = Resin.objects.get()
    assert (row.source, row.ratio_low, row.compared_on) == ("Leaflet 4", None, None)
    assert (row.resumable, row.active) == (True, True)
    kinds = Event.objects.filter(kind__startswith="resin.").order_by("pk")
    assert [event.kind for event in kinds] == ["resin.added", "resin.changed"]
    assert verify_record() == []


@pytest.mark.parametrize(
    ("values", "code", "field"),
    [
        ({"name": " "}, "no-name", "name"),
        ({"name": "taken"}, "name-taken", "name"),
        ({"compared_on": "2026-13-01", "source": "L"}, "bad-day", "compared_on"),
        (
            {"compared_on": (TODAY + timedelta(days=2)).isoformat(), "source": "L"},
            "day-ahead", "compared_on",
        ),
        ({"compared_on": TODAY.isoformat()}, "no-source", "source"),
        ({"ratio_low": 23.0}, "bad-number", "ratio_low"),
        ({"dough_until": -1.0}, "bad-number", "dough_until"),
        ({"bpo_percent": 50.0}, "bad-number", "bpo_percent"),
        ({"ratio_low": 2.5, "ratio_high": 2.0}, "crossed", "ratio_high"),
        ({"dough_from": 20.0, "dough_until": 10.0}, "crossed", "dough_until"),
        ({"resin": 99_999}, "no-resin", ""),
    ],
)  # fmt: skip
def test_resin_is_refused_beside_its_entry(
    shop: Shop, values: dict[str, Any], code: str, field: str
) -> None:
    make_resin(shop, name="Taken")
    no = refused(code, save_resin, shop.envelope("pavo"), **{"name": "Rosewood base", **values})
    assert no.field == field
    assert Resin.objects.count() == 1


def test_program_is_changed_by_a_further_version_with_a_reason(shop: Shop) -> None:
    resin = make_resin(shop)
    first = save(shop, resin, LONG)
    longer = replace(LONG, stages=(Hold(74.0, 540.0, ramp_minutes=30.0),))
    body = {"resin": resin, "program": as_json(longer), "base": 1}

    refused("no-reason", save_program, shop.envelope("pavo"), **body)
    refused("name-taken", save_program, shop.envelope("pavo"), **{**body, "base": 0})
    save(shop, resin, longer, base=1, reason="Leaflet 4 says nine hours")
    stale = {**body, "program": as_json(LONG), "reason": "back"}
    refused("newer-version", save_program, shop.envelope("pavo"), **stale)
    same = {**body, "base": 2, "reason": "again"}
    refused("same-program", save_program, shop.envelope("pavo"), **same)

    rows = CureProgram.objects.order_by("version")
    assert [row.version for row in rows] == [1, 2]
    assert read_program(rows[0].document) == LONG
    assert rows[0].pk == first
    assert read_program(rows[1].document) == longer
    assert (rows[1].reason, rows[1].saved_by) == ("Leaflet 4 says nine hours", shop.people["pavo"])
    assert verify_record() == []


def test_a_day_of_comparison_does_not_outlive_the_numbers_that_were_compared(shop: Shop) -> None:
    earlier = (TODAY - timedelta(days=30)).isoformat()
    resin = make_resin(shop, source="Leaflet 3", compared_on=earlier, ratio_low=2.2)
    compared = replace(LONG, compared_on=earlier)
    save(shop, resin, compared)
    longer = replace(compared, stages=(Hold(74.0, 540.0, ramp_minutes=30.0),))
    more: dict[str, Any] = {"base": 1, "reason": "Leaflet 4 says nine hours"}
    body = {"resin": resin, "name": "Rosewood base", "source": "Leaflet 3", "compared_on": earlier}

    at_program = refused(
        "compared-before", save_program, shop.envelope("pavo"), resin=resin,
        program=as_json(longer), **more,
    )  # fmt: skip
    at_resin = refused("compared-before", save_resin, shop.envelope("pavo"), **body, ratio_low=2.4)
    save(shop, resin, replace(longer, compared_on=TODAY.isoformat()), **more)
    save(shop, resin, replace(longer, compared_on=""), base=2, reason="Not compared after all")
    save_resin(shop.envelope("pavo"), **body, ratio_low=2.2, active=False)
    save_resin(shop.envelope("pavo"), **{**body, "compared_on": ""}, ratio_low=2.4)

    assert (at_program.field, at_resin.field) == ("compared_on", "compared_on")
    assert "were changed since" in at_program.sentence
    assert CureProgram.objects.count() == 3


def test_a_note_beside_a_compared_program_leaves_its_day(shop: Shop) -> None:
    resin = make_resin(shop)
    compared = replace(LONG, compared_on=(TODAY - timedelta(days=30)).isoformat())
    save(shop, resin, compared)

    save(shop, resin, replace(compared, note="For the deep flask"), base=1, reason="Said so")

    assert CureProgram.objects.first().document["compared_on"] == compared.compared_on


def test_program_keeps_its_name(shop: Shop) -> None:
    resin = make_resin(shop)
    save(shop, resin, LONG)
    body = {"resin": resin, "program": as_json(replace(LONG, name="Other")), "base": 1}
    assert refused("renamed", save_program, shop.envelope("pavo"), **body).field == "name"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"name": " "}, "name"),
        ({"source": ""}, "source"),
        ({"stages": ()}, "celsius-1"),
        ({"stages": (Hold(60.0, 480.0),)}, "celsius-1"),
        ({"stages": (Hold(74.0, 0.0),)}, "minutes-1"),
        ({"stages": (Hold(74.0, 90.0), Hold(70.0, 30.0))}, "celsius-2"),
        ({"stages": (Hold(74.0, 90.0, ramp_minutes=-5.0),)}, "ramp_minutes-1"),
        ({"water_cool_minutes": -1.0}, "water_cool_minutes"),
        ({"largest_mm": 0.0}, "largest_mm"),
        ({"compared_on": "yesterday"}, "compared_on"),
        ({"compared_on": "2099-01-01"}, "compared_on"),
        ({"name": "n" * 61}, "name"),
    ],
)
def test_program_is_refused_beside_its_entry(
    shop: Shop, changes: dict[str, Any], field: str
) -> None:
    resin = make_resin(shop)
    body = {"resin": resin, "program": as_json(replace(LONG, **changes))}
    code = {"n" * 61: "long-name"}.get(changes.get("name", ""), "bad-program")
    code = "day-ahead" if changes.get("compared_on") == "2099-01-01" else code
    assert refused(code, save_program, shop.envelope("pavo"), **body).field == field
    assert not CureProgram.objects.exists()


def test_what_is_no_program_is_refused(shop: Shop) -> None:
    body = {"resin": make_resin(shop), "program": {"name": "Half of one"}}
    refused("no-program", save_program, shop.envelope("pavo"), **body)
    gone = {"resin": 99_999, "program": as_json(LONG)}
    refused("no-resin", save_program, shop.envelope("pavo"), **gone)


def test_bath_on_a_mountain_does_not_reach_a_hundred_degrees(shop: Shop) -> None:
    resin = make_resin(shop)
    unmarked = replace(SHORT, stages=(Hold(74.0, 120.0), Hold(100.0, 60.0)))
    save(shop, resin, replace(unmarked, name="By the sea"))
    Lab.objects.update(altitude_m=1600)

    no = refused(
        "bad-program", save_program, shop.envelope("pavo"), resin=resin, program=as_json(unmarked)
    )
    save(shop, resin, SHORT)

    assert no.field == "celsius-2"
    assert "94.7" in no.sentence
    assert CureProgram.objects.count() == 2


def test_retired_program_comes_back_by_a_new_version(shop: Shop) -> None:
    resin = make_resin(shop)
    first = save(shop, resin, LONG)
    retire_program(shop.envelope("pavo"), program=first)
    refused("out-of-use", retire_program, shop.envelope("pavo"), program=first)
    refused("no-program", retire_program, shop.envelope("pavo"), program=99_999)

    second = save(shop, resin, LONG, base=1, reason="The maker sells it again")

    assert CureProgram.objects.get(pk=first).retired_at == NOW
    assert CureProgram.objects.get(pk=second).retired_at is None
    refused("out-of-use", retire_program, shop.envelope("pavo"), program=first)
    assert verify_record() == []


CHECK: dict[str, Any] = {
    "probe": "P1", "checked_on": TODAY.isoformat(), "reads_high_k": -0.5,
    "against": "glass thermometer, at 74 °C",
}  # fmt: skip


def test_checks_of_a_probe_stand_beside_each_other(shop: Shop) -> None:
    bath = Bath.objects.get()
    for off in (-0.5, 0.25):
        check_probe(shop.envelope("pavo"), bath=bath.pk, **{**CHECK, "reads_high_k": off})

    assert [row.reads_high_k for row in ProbeCheck.objects.order_by("pk")] == [-0.5, 0.25]
    assert ProbeCheck.objects.order_by("pk")[0].checked_on == date.fromisoformat(TODAY.isoformat())
    assert verify_record() == []


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"probe": ""}, "no-probe"),
        ({"checked_on": "soon"}, "bad-day"),
        ({"checked_on": "2099-01-01"}, "day-ahead"),
        ({"reads_high_k": 90.0}, "far-off"),
        ({"against": " "}, "no-reference"),
        ({"bath": 99_999}, "no-bath"),
    ],
)
def test_check_of_a_probe_is_refused(shop: Shop, change: dict[str, Any], code: str) -> None:
    bath = Bath.objects.get()
    refused(code, check_probe, shop.envelope("pavo"), **{"bath": bath.pk, **CHECK, **change})
    assert not ProbeCheck.objects.exists()


@pytest.mark.parametrize("who", ["mara", "noor", "lind"])
def test_only_a_manager_touches_resins_programs_and_probes(shop: Shop, who: str) -> None:
    resin, bath = make_resin(shop), Bath.objects.get()
    program = save(shop, resin, LONG)
    refused("not-allowed", save_resin, shop.envelope(who), name="Other")
    refused("not-allowed", retire_program, shop.envelope(who), program=program)
    refused("not-allowed", check_probe, shop.envelope(who), bath=bath.pk, **CHECK)
    body = {"resin": resin, "program": as_json(SHORT)}
    refused("not-allowed", save_program, shop.envelope(who), **body)
