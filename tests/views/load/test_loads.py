"""The pages of the loads, without scripts: gather, ask, start, and what is refused there."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any

import pytest
import segno
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Load, Resin
from cases.services.cure_limits import change_cure_limits
from cases.services.resins import retire_program
from tests.bath_records import WALL
from tests.factories import make_shop, rows
from tests.services.test_cure_rest import Bench as Rest
from tests.services.test_load import Bench, stage_of, unmeasured
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench() -> Iterator[Bench]:
    bench = Bench(make_shop(), cases=1)
    with time_machine.travel(bench.now, tick=False):
        yield bench


@pytest.fixture
def mara(bench: Bench) -> Client:
    return client_of(bench.shop)


def act(client: Client, load: Load, what: str, **body: Any) -> Any:
    load.refresh_from_db()
    sent = {"what": what, "version": load.version, **body}
    return client.post(reverse("cases:load-act", args=[load.number]), sent)


def test_load_goes_from_the_form_to_the_bath(mara: Client, bench: Bench) -> None:
    case = bench.cases[0]
    made = mara.post(
        reverse("cases:load-new"),
        {"bath": bench.made["bath"].pk, "program": bench.made["long"].pk},
    )
    load = Load.objects.get()
    added = act(mara, load, "flask", label=case.number, thickest_mm="4")
    act(mara, load, "estimate")
    asked = mara.get(reverse("cases:load", args=[load.number]))
    started = act(mara, load, "start")

    assert made["Location"] == reverse("cases:load", args=[load.number])
    assert added.status_code == 303
    assert "Heating estimate only" in asked.content.decode()
    assert started.status_code == 303
    assert stage_of(case, "cure").state == "done"
    shown = mara.get(reverse("cases:case", args=[case.number])).content.decode()
    assert f"Load {load.number}, Cauldron" in shown


def test_unknown_flask_is_refused_beside_its_field_and_kept(mara: Client, bench: Bench) -> None:
    load = bench.new()

    answer = act(mara, load, "flask", label="Z-99")

    page = answer.content.decode()
    assert answer.status_code == 422
    assert 'value="Z-99"' in page
    assert "No case is in flask Z-99" in page


def test_resin_that_nobody_noted_is_asked_once_and_shown(mara: Client, bench: Bench) -> None:
    rows(lambda record: {"row": record.create(Resin, name="Other resin")})
    load = bench.made_empty()
    number = bench.cases[0].number

    asked = act(mara, load, "flask", label=number, thickest_mm="4")
    added = act(
        mara, load, "flask", label=number, thickest_mm="4", resin=bench.made["long"].resin.pk
    )
    page = mara.get(reverse("cases:load", args=[load.number])).content.decode()

    assert "Nobody noted at the packing" in asked.context["flask_form"].errors["resin"][0]
    assert added.status_code == 303
    assert "packed with Rosewater 3, as was said here" in page


def picture_of(code: str) -> io.BytesIO:
    found = io.BytesIO()
    segno.make(code, error="m").save(found, kind="png", scale=6, border=4)
    found.seek(0)
    found.name = "ticket.png"
    return found


def test_flask_is_added_by_a_photograph_of_its_ticket(mara: Client, bench: Bench) -> None:
    case, bench.cases = bench.cases[0], []
    load = bench.new()

    added = act(mara, load, "flask", label="", thickest_mm="4", photo=picture_of(case.number))

    assert added.status_code == 303
    assert [one.case for one in load.flasks.all()] == [case]


def test_photograph_without_a_code_is_refused_beside_the_number(mara: Client, bench: Bench) -> None:
    load = bench.new()
    none = io.BytesIO(b"no picture")
    none.name = "x.png"

    answer = act(mara, load, "flask", label="", photo=none)

    assert answer.status_code == 422
    assert "This is not a picture that can be read" in answer.context["form"].errors["label"][0]


def test_start_that_was_not_asked_about_is_refused(mara: Client, bench: Bench) -> None:
    load = bench.new()

    answer = act(mara, load, "start")

    assert answer.status_code == 422
    assert "Let the program be looked at" in answer.content.decode()


def test_stale_page_says_so(mara: Client, bench: Bench) -> None:
    load = bench.new()
    sent = {"what": "cancel", "version": load.version - 1}

    answer = mara.post(reverse("cases:load-act", args=[load.number]), sent, follow=True)

    assert "changed by somebody else" in answer.content.decode()
    load.refresh_from_db()
    assert load.state == "gathering"


def test_wait_is_shortened_only_with_a_reason(bench: Bench) -> None:
    row = bench.started()
    cool = stage_of(bench.cases[0], "cool")
    client = client_of(bench.shop, "pavo")
    address = reverse("cases:wait-shorten", args=[cool.pk])

    silent = client.post(address, {"version": cool.version, "words": ""})
    said = client.post(address, {"version": cool.version, "words": "The bath leaks. Pavo"})

    cool.refresh_from_db()
    assert (silent.status_code, said.status_code) == (422, 303)
    assert cool.may_from is not None
    assert row.ends_at is not None
    assert cool.may_from < row.ends_at


@pytest.mark.parametrize("loads", [1, 6])
def test_list_asks_the_same_whatever_its_length(
    mara: Client,
    bench: Bench,
    loads: int,
    django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    bench.cases = []
    for _ in range(loads):
        bench.new()

    with django_assert_max_num_queries(16):
        mara.get(reverse("cases:loads"))


def test_list_draws_each_case_and_asks_no_more_for_it(
    django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]],
) -> None:
    bench = Bench(make_shop(), cases=3)
    with time_machine.travel(bench.now, tick=False):
        bench.new()
        client = client_of(bench.shop)
        with django_assert_max_num_queries(16):
            page = client.get(reverse("cases:loads")).content.decode()

    for case in bench.cases:
        face = page[: page.index(f"</span> {case.number}</a>")].rpartition('class="face"')[2]
        assert "<svg" in face


def test_load_with_a_flask_that_rests_says_until_when_and_asks_why_not() -> None:
    rest = Rest(overnight=45)
    row = rest.asked(rest.gathered("overnight"))
    page = reverse("cases:load", args=[row.number])

    with time_machine.travel(rest.now, tick=False):
        client = client_of(rest.shop, "oren")
        shown = client.get(page).content.decode()
        refused = act(client, row, "start")
        started = act(client, row, "start", rest_words="The maker was asked. Oren")

    until = (rest.now + timedelta(minutes=45)).astimezone(WALL)
    assert f"rests under its clamp until {until:%a %H:%M}" in shown
    assert 'name="rest_words"' in shown
    assert refused.status_code == 422
    assert "say why it goes in earlier" in refused.content.decode()
    assert started.status_code == 303


def test_load_of_rested_flasks_does_not_ask_about_their_rest() -> None:
    rest = Rest(overnight=45)
    row = rest.asked(rest.gathered("overnight"))

    with time_machine.travel(rest.now + timedelta(minutes=45), tick=False):
        shown = client_of(rest.shop).get(reverse("cases:load", args=[row.number]))

    assert "rests under its clamp" not in shown.content.decode()
    assert 'name="rest_words"' not in shown.content.decode()


def test_page_offers_a_start_with_hands_and_shows_it_when_it_is_chosen() -> None:
    bench = Bench(make_shop(), cases=1)
    rows(lambda record: {"b": record.change(bench.made["bath"], starts_itself=True)})
    bench.now = datetime(2026, 12, 9, 17, 30, tzinfo=WALL)
    load = bench.new()
    page = reverse("cases:load", args=[load.number])

    with time_machine.travel(bench.now, tick=False):
        client = client_of(bench.shop)
        act(client, load, "estimate")
        now = client.get(page)
        later = client.get(page, {"starts_at": "2026-12-09T23:30"})

    offered = now.context["better"].astimezone(WALL)
    assert "If it starts now" in now.content.decode()
    assert f"?starts_at={offered:%Y-%m-%dT%H:%M}" in now.content.decode()
    text = later.content.decode()
    assert "If it starts Wed 9 Dec, 23:30" in text
    assert 'value="2026-12-09T23:30"' in text
    assert "Thu 08:00" in text


@pytest.mark.parametrize("said", ["yesterday", "2026-12-01T08:00", "2026-12-31T08:00"])
def test_start_that_cannot_be_is_shown_as_now(mara: Client, bench: Bench, said: str) -> None:
    load = bench.new()

    page = mara.get(reverse("cases:load", args=[load.number]), {"starts_at": said})

    assert "If it starts now" in page.content.decode()
    assert page.context["chosen"] is None


def test_estimate_names_the_flasks_that_nobody_measured_and_asks_why_they_go_in() -> None:
    bench = Bench(make_shop(), cases=2)
    measured, unmeasured_case = bench.cases
    bench.cases = [unmeasured_case]
    row = unmeasured(bench)
    page = reverse("cases:load", args=[row.number])
    client = client_of(bench.shop)

    with time_machine.travel(bench.now, tick=False):
        refused = act(client, row, "flask", label=unmeasured_case.number)
        act(client, row, "flask", label=measured.number, thickest_mm="4")
        alone = client.get(page).content.decode()
        added = act(
            client, row, "flask", label=unmeasured_case.number, unmeasured_words="No gauge. Mara"
        )
        act(client, row, "estimate")
        shown = client.get(page).content.decode()

    assert (refused.status_code, added.status_code) == (422, 303)
    assert "Nobody measured how thick" in refused.context["form"].errors["thickest_mm"][0]
    assert "The maker allows 15 mm for this program" in alone
    said = shown[shown.index("Nobody measured the thickest place of:") :]
    said = said[: said.index("</p>")]
    assert unmeasured_case.number in said
    assert measured.number not in said
    assert Load.objects.get(number=row.number).sound["risk"] == "low"
    assert 'name="words"' in shown


def test_estimate_says_its_limits_and_that_the_lab_has_others_by_now(
    mara: Client, bench: Bench
) -> None:
    row = bench.new("long")
    page = reverse("cases:load", args=[row.number])
    act(mara, row, "estimate")
    usual = mara.get(page).content.decode()
    change_cure_limits(
        bench.shop.envelope("pavo"), values={"gypsum_mm": 28.0, "near_c": 92.0}, reason="Measured."
    )

    kept = mara.get(page).content.decode()
    act(mara, row, "estimate")
    anew = mara.get(page).content.decode()

    older = "has changed its limits since this was estimated"
    assert [older in text for text in (usual, kept, anew)] == [False, True, False]
    assert "counts as some above 95\u00a0°C in the core" in kept
    assert "20 mm of gypsum around the piece" in kept
    assert "counts as some above 92\u00a0°C in the core" in anew
    assert "28 mm of gypsum around the piece" in anew


def test_page_shows_the_cautions_of_the_cure_until_the_flasks_are_out(
    mara: Client, bench: Bench
) -> None:
    row = bench.new("long")
    page = reverse("cases:load", args=[row.number])
    gathered = mara.get(page).content.decode()
    act(mara, row, "cancel")
    given_up = mara.get(page).content.decode()

    for words in ("Boiling water and hot wax", "Hot flask", "Cure with nobody there"):
        assert words in gathered
        assert words not in given_up
    assert "Reminder only: follow the safety data sheet" in gathered


@pytest.mark.parametrize(
    ("itself", "words"),
    [
        (True, "It waits: the bath starts itself on"),
        (False, "It waits: the heating is to be started on"),
    ],
)
def test_load_that_waits_for_its_start_says_so_and_until_when(itself: bool, words: str) -> None:
    bench = Bench(make_shop(), cases=1)
    rows(lambda record: {"b": record.change(bench.made["bath"], starts_itself=itself)})
    begins = bench.now + timedelta(hours=4)
    row = bench.started(starts_at=begins.isoformat())
    assert row.ends_at
    client = client_of(bench.shop)
    page, found = reverse("cases:load", args=[row.number]), reverse("cases:loads")

    with time_machine.travel(bench.now, tick=False):
        waits, listed = (client.get(one).content.decode() for one in (page, found))
    with time_machine.travel(begins + timedelta(minutes=1), tick=False):
        runs, later = (client.get(one).content.decode() for one in (page, found))
    with time_machine.travel(row.ends_at + timedelta(minutes=1), tick=False):
        over = client.get(found).content.decode()

    assert f"{words} {begins.astimezone(WALL):%a %-d %b, %H:%M}" in waits
    assert "the program runs" not in waits
    assert "in the bath, not heated yet" in listed
    assert "the program runs" in runs
    assert "It waits" not in runs
    assert "not heated yet" not in later
    assert "to be taken out" not in later
    assert "to be taken out" in over


def test_page_says_that_no_start_has_hands_and_names_the_nearest() -> None:
    bench = Bench(make_shop(), cases=1)
    rows(lambda record: {"b": record.change(bench.made["bath"], starts_itself=True)})
    # Friday evening: nobody is there until Monday.
    bench.now = datetime(2026, 12, 11, 18, 0, tzinfo=WALL)
    load = bench.new()

    with time_machine.travel(bench.now, tick=False):
        page = client_of(bench.shop).get(reverse("cases:load", args=[load.number]))

    shown = page.content.decode()
    nearest = page.context["nearest"]
    assert "No start within the next 24 hours has somebody there for each step" in shown
    at = nearest.at.astimezone(WALL)
    assert f"The nearest to it: started {at:%a %-d %b, %H:%M}" in shown
    assert f"?starts_at={at:%Y-%m-%dT%H:%M}" in shown
    assert "take the flasks out and let them cool (" in shown
    assert "better" not in page.context


def test_page_says_that_its_program_is_no_longer_in_use(mara: Client, bench: Bench) -> None:
    load = bench.new()
    address = reverse("cases:load", args=[load.number])
    words = "there is a newer version of its program, or it was put out of use"
    before = mara.get(address).content.decode()
    retire_program(bench.shop.envelope("pavo"), program=load.program.pk)

    after = mara.get(address).content.decode()

    assert words not in before
    assert words in after
