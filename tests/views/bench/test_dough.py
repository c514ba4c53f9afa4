"""The dough on the page of a packing: what it says, its two presses, its proposal, its refusals."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Case, CaseStage, Mix, Resin
from cases.services.dough import note_mix
from cases.services.stage import start_stage
from tests.factories import NOW, Shop, rows
from tests.views.bench.conftest import sign_in
from tests.views.bench.test_stage import post
from tests.walk import photograph

pytestmark = pytest.mark.django_db


def add(name: str, **told: float) -> Resin:
    made: Resin = rows(lambda record: {"row": record.create(Resin, name=name, **told)})["row"]
    return made


@pytest.fixture
def resin() -> Resin:
    return add("Rosewater 3", ratio_low=2.2, ratio_high=2.4, dough_from=8.0, dough_until=15.0,
               room_c=23.0)  # fmt: skip


@pytest.fixture
def packing(shop: Shop, case_at: Callable[..., Case]) -> CaseStage:
    """A packing in hand, at a tablet that nobody has to touch for long."""
    rows(lambda record: {"lab": record.change(shop.lab, idle_lock_minutes=60)})
    case = case_at("separate")
    stage = case.stages.get(key="pack")
    photo = photograph(shop, case, stage, NOW, "mara")
    start_stage(shop.envelope("mara", now=NOW), stage=stage.pk, version=stage.version, photo=photo)
    stage.refresh_from_db()
    return stage


def text_of(client: Client, stage: CaseStage) -> str:
    page = client.get(reverse("cases:bench-stage", args=[stage.pk]))
    assert page.status_code == 200
    return page.content.decode()


def test_before_the_mix_the_makers_minutes_stand_there(
    bench: Client, packing: CaseStage, resin: Resin
) -> None:
    text = text_of(bench, packing)

    assert "Not mixed yet." in text
    assert (
        "Rosewater 3: dough from 8 to 15 min after the mix began in a room at 23 °C, as its "
        "maker says." in text
    )
    assert 'name="resin"' not in text


def test_what_the_maker_does_not_say_is_left_to_the_label(
    bench: Client, packing: CaseStage
) -> None:
    add("Rosewater 3")

    text = text_of(bench, packing)

    assert "The maker&#x27;s minutes of Rosewater 3 are not entered" in text


@pytest.mark.parametrize(
    ("minutes", "sentence"),
    [
        (1, "Wait. It may be packed from 10:50."),
        (9, "Pack now. The last closing is at 10:57 at the latest."),
        (13, "Close the flask for the last time before 10:57."),
        (16, "The maker's time was over at 10:57."),
    ],
)
def test_the_page_says_what_to_do_at_each_moment(
    bench: Client, packing: CaseStage, resin: Resin, moment: time_machine.Coordinates,
    minutes: float, sentence: str,
) -> None:  # fmt: skip
    post(bench, "bench-mixed", packing, room_c="26,5")
    moment.shift(minutes * 60)

    part = bench.get(reverse("cases:bench-dough", args=[packing.pk])).content.decode()

    assert sentence in part
    assert "In the warmer room the dough is ready earlier" in part
    assert "do not force it" in part if minutes == 16 else "do not force it" not in part
    assert "data-due=" in part


def test_closing_is_proposed_to_the_check_and_confirmed_by_a_press(
    bench: Client, packing: CaseStage, resin: Resin, moment: time_machine.Coordinates
) -> None:
    post(bench, "bench-mixed", packing)
    moment.shift(11.5 * 60)
    post(bench, "bench-closed", packing)

    text = text_of(bench, packing)
    item = packing.checks.get(number=40)

    assert Mix.objects.get().closed_at is not None
    assert "From the mix to the last closing as noted: 11.5 min." in text
    assert f'id="check-{item.pk}-minutes" name="value-minutes" value=""' in text
    post(bench, "bench-check", item, version=packing.version, **{"confirm-minutes": "11.5"})
    item.refresh_from_db()
    assert item.values["values"] == {"minutes": 11.5}
    assert "as noted: 11.5 min." not in text_of(bench, packing)


@pytest.mark.parametrize(
    ("minutes", "told"), [(3, "closed too early"), (10, "closed"), (30, "closed too late")]
)
def test_closing_outside_the_makers_minutes_is_said(
    bench: Client, packing: CaseStage, resin: Resin, moment: time_machine.Coordinates,
    minutes: float, told: str,
) -> None:  # fmt: skip
    post(bench, "bench-mixed", packing)
    moment.shift(minutes * 60)
    post(bench, "bench-closed", packing)

    part = bench.get(reverse("cases:bench-dough", args=[packing.pk])).content.decode()

    assert f"{told}</span>" in part


def test_several_resins_are_chosen_from_and_a_refusal_keeps_what_was_typed(
    bench: Client, packing: CaseStage, resin: Resin
) -> None:
    other = add("Other resin")

    refused = post(bench, "bench-mixed", packing, room_c="24", minutes_ago="2")

    text = refused.content.decode()
    assert refused.status_code == 422
    assert "Say which resin was mixed." in text
    assert 'value="24"' in text
    assert 'value="2"' in text
    assert not Mix.objects.exists()
    assert post(bench, "bench-mixed", packing, resin=other.pk).status_code == 303
    assert Mix.objects.get().resin == other


@pytest.mark.parametrize(("name", "value"), [("room_c", "75"), ("minutes_ago", "soon")])
def test_bad_entries_are_refused(
    bench: Client, packing: CaseStage, resin: Resin, name: str, value: str
) -> None:
    refused = post(bench, "bench-mixed", packing, **{name: value})

    assert refused.status_code == 422
    assert f'value="{value}"' in refused.content.decode()
    assert not Mix.objects.exists()


def test_closing_what_nobody_mixed_is_refused(bench: Client, packing: CaseStage) -> None:
    refused = post(bench, "bench-closed", packing)

    assert refused.status_code == 422
    assert "Nobody noted when it was mixed." in refused.content.decode()


def test_a_lab_without_resin_is_told_who_adds_it(bench: Client, packing: CaseStage) -> None:
    assert "The lab has no resin in use yet." in text_of(bench, packing)
    refused = post(bench, "bench-mixed", packing)
    assert refused.status_code == 422
    assert "The lab has no resin in use yet." in refused.content.decode()


def test_another_stage_has_no_dough(bench: Client, case_at: Callable[..., Case]) -> None:
    stage = case_at("trim").stages.get(key="survey")

    assert "The dough" not in text_of(bench, stage)
    assert bench.get(reverse("cases:bench-dough", args=[stage.pk])).status_code == 204


def test_the_quantity_is_an_estimate_with_its_formula_and_only_where_the_design_tells(
    bench: Client, packing: CaseStage, resin: Resin
) -> None:
    assert "Estimate: about" not in text_of(bench, packing)
    design = packing.case.design
    assert design is not None
    told = {**design.data, "plate_height_mm": 10.0, "plate_thickness_mm": 2.5}
    rows(lambda record: {"design": record.change(design, data=told)})

    text = text_of(bench, packing)

    assert "Estimate: about" in text
    assert "at 2.3 g to 1 mL." in text
    assert "liquid = 1.5 × cured density × volume / (ratio + density of the liquid)" in text
    assert "no published source" in text


def test_quantity_is_told_of_each_resin_before_one_of_several_is_mixed(
    bench: Client, shop: Shop, packing: CaseStage, resin: Resin
) -> None:
    other = add("Other resin", ratio_low=2.0, ratio_high=2.0)
    add("Resin without a ratio")
    design = packing.case.design
    assert design is not None
    told = {**design.data, "plate_height_mm": 10.0, "plate_thickness_mm": 2.5}
    rows(lambda record: {"design": record.change(design, data=told)})

    before = text_of(bench, packing)
    note_mix(shop.envelope("mara", now=NOW), stage=packing.pk, version=packing.version,
             resin=other.pk)  # fmt: skip
    after = text_of(bench, packing)

    for name, ratio in (("Rosewater 3", "2.3"), ("Other resin", "2")):
        said = before[before.index(f"{name}, estimate: about") :]
        assert f"at {ratio} g to 1 mL." in said[: said.index("</p>")]
    assert "Resin without a ratio, estimate" not in before
    assert before.count("liquid = 1.5 × cured density") == 1
    assert "at 2 g to 1 mL." in after
    assert "at 2.3 g to 1 mL." not in after


def test_who_looks_on_sees_the_dough_and_no_buttons(
    bench: Client, shop: Shop, packing: CaseStage, resin: Resin
) -> None:
    note_mix(shop.envelope("mara", now=NOW), stage=packing.pk, version=packing.version)
    sign_in(bench, shop, "oren")
    text = text_of(bench, packing)

    assert "mixed at" in text
    assert reverse("cases:bench-closed", args=[packing.pk]) not in text
