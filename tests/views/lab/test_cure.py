"""The settings pages of resins, programs and probes."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from cases.domain.cure.program import LONG, SHORT, Hold, read_program
from cases.models import Bath, CureProgram, Lab, ProbeCheck, Resin
from tests.factories import Shop, make_shop
from tests.services.test_resins import make_resin, save

pytestmark = pytest.mark.django_db

ENTRIES: dict[str, str] = {
    "name": "Overnight", "source": "Leaflet 3", "celsius-1": "74", "minutes-1": "480",
    "ramp_minutes-1": "30", "celsius-2": "100", "minutes-2": "60", "boil-2": "on",
    "bench_rest_minutes": "30", "bench_cool_minutes": "30", "water_cool_minutes": "15",
    "largest_mm": "12,5", "compared_on": "2025-06-02",
}  # fmt: skip


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def manager(client: Client, shop: Shop) -> Client:
    client.force_login(shop.people["pavo"].user)
    return client


def test_resin_is_added_then_a_program(manager: Client) -> None:
    added = manager.post(reverse("cases:resins"), {"name": "Rosewood base", "ratio_low": "2,2"})
    resin = Resin.objects.get()
    made = manager.post(reverse("cases:program-new", args=[resin.pk]), ENTRIES)

    row = CureProgram.objects.get()
    program = read_program(row.document)
    assert added["Location"] == reverse("cases:resin", args=[resin.pk])
    assert resin.ratio_low == 2.2
    assert made["Location"] == reverse("cases:program", args=[row.pk])
    assert program.stages == (Hold(74.0, 480.0, 30.0), Hold(100.0, 60.0, boil=True))
    assert (program.largest_mm, program.compared_on) == (12.5, "2025-06-02")


@pytest.mark.parametrize(("key", "example"), [("long", LONG), ("short", SHORT)])
def test_example_fills_the_form_and_can_be_saved_as_it_is(
    manager: Client, shop: Shop, key: str, example: Any
) -> None:
    url = reverse("cases:program-new", args=[make_resin(shop)]) + f"?from={key}"
    form = manager.get(url).context["form"]
    shown = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in shown.items() if value not in (None, False, "")}

    manager.post(url, sent)

    assert read_program(CureProgram.objects.get().document) == example


@pytest.mark.parametrize(
    ("change", "field", "sentence"),
    [
        ({"celsius-1": "60"}, "celsius-1", "holds 65 to 103"),
        ({"minutes-1": ""}, "minutes-1", "Enter minutes"),
        ({"celsius-1": "warm"}, "celsius-1", "Enter a number"),
        ({"celsius-4": "101", "minutes-4": "5"}, "celsius-4", "Leave no row out"),
        ({"celsius-2": "74"}, "celsius-2", "no hotter than the one before"),
        ({"source": ""}, "source", "required"),
        ({"compared_on": "2099-01-01"}, "compared_on", "lies ahead"),
    ],
)
def test_wrong_program_is_refused_beside_its_field_and_nothing_is_lost(
    manager: Client, shop: Shop, change: dict[str, str], field: str, sentence: str
) -> None:
    url = reverse("cases:program-new", args=[make_resin(shop)])

    answer = manager.post(url, {**ENTRIES, **change})

    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["form"].errors[field])
    assert 'value="Overnight"' in answer.content.decode()
    assert not CureProgram.objects.exists()


def test_every_wrong_stage_is_named_at_once(manager: Client, shop: Shop) -> None:
    url = reverse("cases:program-new", args=[make_resin(shop)])
    answer = manager.post(url, {**ENTRIES, "minutes-1": "0", "celsius-2": "70"})
    assert set(answer.context["form"].errors) == {"minutes-1", "celsius-2"}


def test_program_page_says_the_program_and_the_boil_here(manager: Client, shop: Shop) -> None:
    Lab.objects.update(altitude_m=1600)
    pk = save(shop, make_resin(shop), SHORT)

    text = manager.get(reverse("cases:program", args=[pk])).content.decode()

    assert "74 °C for 2 h after a rise of 30 min, then at the boil for 1 h" in text
    assert "then 30 min in air, 15 min in tap water" in text
    assert "94.7 °C" in text
    assert "Reminder only" in text
    assert "monomer" not in text.replace("lowers leftover monomer", "").lower()


def test_new_version_asks_why_and_the_earlier_one_stays(manager: Client, shop: Shop) -> None:
    first = save(shop, make_resin(shop), LONG)
    url = reverse("cases:program", args=[first])
    entries = {**ENTRIES, "name": "Nobody can rename it"}

    without = manager.post(url, entries)
    manager.post(url, {**entries, "reason": "Leaflet 4"})
    again = manager.post(url, {**entries, "reason": "from an old page"})
    old = manager.get(url).content.decode()

    assert "reason" in without.context["form"].errors
    assert list(CureProgram.objects.values_list("name", "version")) == [
        (LONG.name, 2), (LONG.name, 1),
    ]  # fmt: skip
    assert again.status_code == 422
    assert "Version 2 was saved meanwhile" in again.content.decode()
    assert "it is no longer the newest" in old


def test_program_goes_out_of_use(manager: Client, shop: Shop) -> None:
    pk = save(shop, make_resin(shop), LONG)
    url = reverse("cases:program-retire", args=[pk])

    first, second = (manager.post(url, follow=True).content.decode() for _ in range(2))

    assert "It is out of use." in first
    assert "out of use already" in second
    assert (
        "Without a program no load can be made."
        in manager.get(reverse("cases:lab")).content.decode()
    )


def test_check_of_a_probe_is_written_down(manager: Client) -> None:
    url = reverse("cases:probes", args=[Bath.objects.get().pk])
    entries = {"probe": "P1", "checked_on": "2025-06-02", "reads_high_k": "-0,5", "against": "G2"}

    saved = manager.post(url, entries)
    wrong = manager.post(url, {**entries, "reads_high_k": "much"})

    assert saved.status_code == 302
    assert ProbeCheck.objects.get().reads_high_k == -0.5
    assert "reads 0.5 K low" in manager.get(url).content.decode()
    assert wrong.status_code == 422


def test_pages_ask_as_often_for_many_rows(manager: Client, shop: Shop) -> None:
    def count(url: str) -> int:
        with CaptureQueriesContext(connection) as queries:
            manager.get(url)
        return len(queries)

    resin = make_resin(shop)
    program = save(shop, resin, LONG)
    urls = [
        reverse("cases:resins"),
        reverse("cases:resin", args=[resin]),
        reverse("cases:program", args=[program]),
    ]
    few = [count(url) for url in urls]
    for n in range(6):
        other = make_resin(shop, name=f"Resin {n}")
        save(shop, other, SHORT)
        longer = Hold(74.0, 490.0 + n)
        save(shop, resin, type(LONG)(LONG.name, (longer,), "L"), base=n + 1, reason="longer")
    assert [count(url) for url in urls] == few
