"""What hangs on the wall: baths, loads, waits and alarms, for whom, and in how many queries."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django.utils.html import strip_tags
from pytest_django import DjangoAssertNumQueries

from cases.domain.cure.feed import Sample
from cases.domain.cure.program import SHORT, as_json
from cases.models import (
    Bath,
    BathFeed,
    Case,
    CaseStage,
    CureProgram,
    Load,
    LoadFlask,
    Mix,
    Resin,
    Timer,
)
from cases.selectors.wall import ROOM, STAYS, TURN, turn_of
from cases.services.alarms import beat, fire_due
from cases.services.feed_in import take_in
from cases.services.feeds import open_to_token
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, TABLET_TOKEN, Shop, make_case, make_shop, rows
from tests.walk import Clock, walk

pytestmark = pytest.mark.django_db
WALL = "/wall/"
STARTS = NOW - timedelta(minutes=60)
"""Half an hour up to 74 °C until 10:12, held until 12:12, up to the boil until 12:42, boiling until
13:42 on the lab's wall; air until 14:12, water until 14:27."""


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop(NOW - timedelta(days=20))


@pytest.fixture
def moment() -> Iterator[time_machine.Coordinates]:
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def tablet(client: Client, shop: Shop, moment: time_machine.Coordinates) -> Client:
    """An enrolled tablet at which nobody is signed in."""
    client.cookies[TABLET_COOKIE] = TABLET_TOKEN
    return client


def at(shop: Shop, until: str, ref: str) -> Case:
    began = NOW - timedelta(days=5)
    case = make_case(shop, now=began, ref=ref, ordered_on=began.date())
    walk(shop, case, Clock(began), until=until)
    return case


def make_load(*cases: Case, bath: str = "Bath 1", **changes: Any) -> Load:
    """Put cases into a bath: the short cycle, an hour ago."""
    ends = STARTS + timedelta(minutes=SHORT.bath_minutes)
    told = {
        "state": "running", "made_at": STARTS, "placed_at": STARTS, "starts_at": STARTS,
        "ends_at": ends, "open_from": ends + timedelta(minutes=SHORT.cooling_minutes),
    } | changes  # fmt: skip

    def make(record: Any) -> dict[str, Any]:
        stands = Bath.objects.filter(name=bath).first()
        stands = stands or record.create(Bath, name=bath, capacity=4)
        resin = Resin.objects.first() or record.create(Resin, name="Test resin")
        program = CureProgram.objects.first() or record.create(
            CureProgram, resin=resin, name="Short", version=1, document=as_json(SHORT),
            saved_at=STARTS,
        )  # fmt: skip
        number = Load.objects.count() + 1
        load = record.create(Load, number=number, bath=stands, program=program, **told)
        for case in cases:
            record.create(
                LoadFlask, load=load, case=case, stage=case.stages.get(key="cure"), attempt=1,
                flask="3", added_at=STARTS,
            )  # fmt: skip
        return {"load": load}

    return rows(make)["load"]


def said(client: Client, **headers: Any) -> str:
    answer = client.get(WALL, **headers)
    assert answer.status_code == 200
    return " ".join(strip_tags(answer.content.decode()).split())


def test_bath_without_a_load_is_empty(tablet: Client) -> None:
    text = said(tablet)

    assert "No bath is at work." in text
    assert "Bath 1 empty" in text
    assert "No wait runs." in text


@pytest.mark.parametrize(
    ("minutes", "now", "step"),
    [
        (-61, "Waits for its heat until 09:42", "Start the heating at 09:42"),
        (-31, "On the way to 74 °C until 10:12", "Bring to the boil at 12:12"),
        (0, "74 °C until 12:12", "Bring to the boil at 12:12"),
        (90, "On the way to the boil until 12:42", "Take out at 13:42"),
        (120, "Boils until 13:42", "Take out at 13:42"),
        (180, "The program is over since 13:42", "Take out now, let cool"),
    ],
)
def test_load_tells_what_happens_and_what_comes_next(
    tablet: Client, moment: time_machine.Coordinates, minutes: int, now: str, step: str
) -> None:
    make_load()
    moment.move_to(NOW + timedelta(minutes=minutes), tick=False)
    text = said(tablet)

    assert now in text
    assert step in text
    assert "Do not open before 14:27" in text


def test_minutes_that_were_added_lengthen_the_last_part(
    tablet: Client, moment: time_machine.Coordinates
) -> None:
    ends = STARTS + timedelta(minutes=SHORT.bath_minutes + 20)
    make_load(more_minutes=20, ends_at=ends)
    moment.move_to(NOW + timedelta(minutes=120), tick=False)

    assert "Boils until 14:02" in said(tablet)


def test_bath_with_its_own_clock_is_only_emptied_by_hand(tablet: Client) -> None:
    load = make_load()
    rows(lambda record: {"b": record.change(load.bath, starts_itself=True)})

    text = said(tablet)

    assert "Take out at 13:42" in text
    assert "Bring to the boil" not in text


def test_load_out_of_its_bath_cools_until_it_may_be_opened(
    tablet: Client, moment: time_machine.Coordinates
) -> None:
    make_load(state="over", open_from=NOW + timedelta(minutes=40))

    text = said(tablet)
    assert "Bath 1 empty" in text
    assert "In air until 11:07" in text
    assert "Put into tap water at 11:07" in text
    moment.move_to(NOW + timedelta(minutes=30), tick=False)
    assert "In tap water until 11:22" in said(tablet)
    moment.move_to(NOW + timedelta(minutes=40), tick=False)
    assert "Load 1" not in said(tablet)


def test_gathered_load_tells_how_much_room_is_left(shop: Shop, tablet: Client) -> None:
    case = at(shop, "clamp", "Q-1180")
    make_load(case, state="gathering", placed_at=None, starts_at=None, ends_at=None, open_from=None)

    text = said(tablet)

    assert "Room for 5 more flasks being gathered" in text
    assert f"Load 1, 1 flask: {case.number}" in text


def test_time_of_another_day_is_said_with_its_day(tablet: Client) -> None:
    starts = NOW + timedelta(hours=20)
    make_load(starts_at=starts, ends_at=starts + timedelta(hours=4))

    assert "Start the heating at Thu 06:42" in said(tablet)


def test_waits_stand_in_the_order_in_which_they_end(shop: Shop, tablet: Client) -> None:
    cases = [at(shop, "mount", f"Q-118{n}") for n in range(3)]
    for n, minutes in enumerate((40, 10, 25)):
        waiting = first_planned(cases[n])
        rows(
            lambda record, stage=waiting, minutes=minutes: {
                "s": record.change(stage, ready_at=NOW + timedelta(minutes=minutes))
            }
        )

    text = said(tablet)

    places = [text.index(cases[n].number) for n in (1, 2, 0)]
    assert places == sorted(places)
    assert "plaster sets until 10:52" in text
    assert "Q-118" not in text


def first_planned(case: Case) -> CaseStage:
    stage = case.stages.filter(state="planned", ready_at__isnull=False).first()
    assert stage is not None
    return stage


def test_cooling_of_a_load_is_told_once(shop: Shop, tablet: Client) -> None:
    case = at(shop, "clamp", "Q-1180")
    make_load(case)
    cool = case.stages.get(key="cool")
    rows(lambda record: {"s": record.change(cool, ready_at=NOW + timedelta(hours=3))})

    text = said(tablet)

    assert f"Load 1, 1 flask: {case.number}" in text
    assert "No wait runs." in text


def test_alarms_stand_on_top_without_scripts(
    shop: Shop, tablet: Client, moment: time_machine.Coordinates
) -> None:
    case = make_case(shop, now=NOW)
    moment.move_to(NOW + timedelta(minutes=12), tick=False)
    fire_due(NOW + timedelta(minutes=12))
    page = tablet.get(WALL).content.decode()

    alarm = page.index(f"{case.number}: the impression is past its time.")
    assert alarm < page.index("wall-head")
    assert '<noscript><meta http-equiv="refresh" content="30"></noscript>' in page


def test_poll_gets_the_fragment_alone(tablet: Client) -> None:
    page = tablet.get(WALL, HTTP_HX_REQUEST="true").content.decode()

    assert "<html" not in page
    assert "No bath is at work." in page


@pytest.mark.parametrize("who", ["noor", "mara", "pavo"])
def test_people_of_the_lab_see_it(
    client: Client, shop: Shop, moment: time_machine.Coordinates, who: str
) -> None:
    client.force_login(shop.people[who].user)
    assert "Bath 1 empty" in said(client)


def test_practices_and_strangers_do_not(
    client: Client, shop: Shop, moment: time_machine.Coordinates
) -> None:
    assert client.get(WALL)["Location"] == f"{reverse('cases:sign-in')}?next=/wall/"
    assert client.get(WALL, HTTP_HX_REQUEST="true")["HX-Redirect"] == reverse("cases:sign-in")
    client.force_login(shop.people["lind"].user)
    assert client.get(WALL).status_code == 404


def test_last_temperature_stands_at_its_bath_with_its_age_and_shape(
    shop: Shop, tablet: Client
) -> None:
    bath = Bath.objects.get(name="Bath 1")
    open_to_token(shop.envelope("pavo"), bath=bath.pk)
    feed = BathFeed.objects.get()
    without = said(tablet)
    take_in(feed, [Sample(NOW - timedelta(minutes=2), 73.94)])
    fresh = tablet.get(WALL).content.decode()
    BathFeed.objects.update(last_at=NOW - timedelta(minutes=40))

    old = tablet.get(WALL).content.decode()

    assert "No temperature yet" in without
    assert "73.9 °C" in fresh
    assert "tag-done" in fresh
    assert "at 10:40" in strip_tags(fresh)
    assert "old reading" in old
    assert "tag-failed" in old


@pytest.mark.parametrize(
    ("fault", "told"),
    [
        ("dropping", "falls"), ("not-rising", "does not heat as it should"),
        ("silent", "nothing comes in"),
    ],
)  # fmt: skip
def test_bath_that_does_not_heat_is_said_though_its_alarm_was_heard(
    shop: Shop, tablet: Client, fault: str, told: str
) -> None:
    make_load()
    bath = Bath.objects.get(name="Bath 1")
    open_to_token(shop.envelope("pavo"), bath=bath.pk)
    take_in(BathFeed.objects.get(), [Sample(NOW - timedelta(minutes=2), 71.0)])
    well = said(tablet)
    BathFeed.objects.update(fault=fault)

    text = said(tablet)

    assert "read live" in well
    assert "heats" in well
    assert f"71.0 °C at 10:40 {told}" in text
    assert "should heat" in text
    assert "read live" not in text


def test_queries_do_not_grow_with_what_hangs_there(
    shop: Shop, tablet: Client, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    def fill(n: int) -> None:
        for k in range(n):
            case = at(shop, "mount", f"Q-12{Load.objects.count()}{k}")
            make_load(case, bath=f"Bath {Load.objects.count() + 1}")
            waiting = first_planned(case)
            rows(lambda record, s=waiting: {"s": record.change(s, ready_at=NOW + DAY)})

    fill(1)
    few = queries(tablet)
    fill(3)

    with django_assert_num_queries(few):
        tablet.get(WALL)


DAY = timedelta(days=1)


def queries(client: Client) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as caught:
        client.get(WALL)
    return len(caught)


def _mix(shop: Shop, case: Case, minutes_ago: float, **changes: Any) -> Mix:
    """Mix for a case that is put at its packing: dough from 8 to 15 minutes."""
    stage = case.stages.get(key="pack")
    mixed = NOW - timedelta(minutes=minutes_ago)
    resin = Resin.objects.first()

    def make(record: Any) -> dict[str, Any]:
        record.change(stage, state="running")
        kept = resin or record.create(Resin, name="Rosewater 3")
        return {
            "mix": record.create(
                Mix, case=case, stage=stage, attempt=stage.attempt, resin=kept, mixed_at=mixed,
                by=shop.people["mara"],
                **{"opens_at": mixed + timedelta(minutes=8),
                   "closes_at": mixed + timedelta(minutes=15), **changes},
            )
        }  # fmt: skip

    made: Mix = rows(make)["mix"]
    return made


@pytest.mark.parametrize(
    ("ago", "words"),
    [
        (2, "Not dough yet"),
        (9, "Dough: close for the last time"),
        (13, "Dough: close for the last time now"),
        (20, "Dough past its time now"),
    ],
)
def test_dough_is_a_wait_with_its_end(shop: Shop, tablet: Client, ago: float, words: str) -> None:
    case = at(shop, "trim", "Q-1401")
    _mix(shop, case, ago)

    text = " ".join(strip_tags(tablet.get(WALL).content.decode()).split())

    assert f"{words} {case.number}" in text


def test_dough_that_is_closed_mixed_anew_or_forgotten_hangs_there_no_more(
    shop: Shop, tablet: Client
) -> None:
    case = at(shop, "trim", "Q-1402")
    _mix(shop, case, 30)
    _mix(shop, case, 12, closed_at=NOW)
    forgotten = at(shop, "trim", "Q-1403")
    _mix(shop, forgotten, 200)

    text = tablet.get(WALL).content.decode()

    assert "Dough" not in text


@pytest.mark.parametrize("who", ["noor", "pavo"])
def test_desk_and_manager_have_a_link_to_the_wall(
    shop: Shop, client: Client, moment: time_machine.Coordinates, who: str
) -> None:
    user = shop.people[who].user
    assert user is not None
    client.force_login(user)

    page = client.get(reverse("cases:desk")).content.decode()

    assert f'<a href="{WALL}">Wall</a>' in page


def nothing_to_tell() -> None:
    """Let the clock run and no alarm be open: a banner takes the room of a wait."""
    Timer.objects.all().delete()
    beat("sweep", timezone.now())


def test_waits_that_find_no_room_stand_in_turns(
    shop: Shop, tablet: Client, moment: time_machine.Coordinates
) -> None:
    made = [at(shop, "pour", f"Q-119{n}") for n in range(9)]
    nothing_to_tell()
    for n, case in enumerate(made):
        waiting = first_planned(case)
        ends = NOW + timedelta(minutes=30 + n)
        rows(lambda record, s=waiting, at=ends: {"s": record.change(s, ready_at=at)})
    numbers = [case.number for case in made]

    shown = []
    for turn in range(3):
        moment.move_to(NOW + turn * TURN, tick=False)
        text = said(tablet).partition("Waits that run")[2]
        shown.append([number for number in numbers if number in text])
        [place] = re.findall(r"Waits (\d) to (\d) of 9, in turns:", text)
        assert [int(one) for one in place] == [
            numbers.index(shown[-1][STAYS]) + 1,
            numbers.index(shown[-1][-1]) + 1,
        ]

    assert all(one[:STAYS] == numbers[:STAYS] for one in shown)
    assert {len(one) for one in shown} == {ROOM, STAYS + 1}
    assert sorted({number for one in shown for number in one}) == sorted(numbers)


def test_waits_that_find_room_stay(shop: Shop, tablet: Client) -> None:
    for n in range(ROOM):
        waiting = first_planned(at(shop, "pour", f"Q-119{n}"))
        rows(lambda record, s=waiting: {"s": record.change(s, ready_at=NOW + DAY)})
    nothing_to_tell()

    text = said(tablet)

    assert text.count("stone sets") == ROOM
    assert "in turns" not in text


@pytest.mark.parametrize(
    ("many", "room", "froms"), [(0, 3, {0}), (3, 3, {0}), (4, 3, {0, 3}), (7, 3, {0, 3, 6})]
)
def test_turns_come_to_each_wait(many: int, room: int, froms: set[int]) -> None:
    assert {turn_of(many, room, NOW + n * TURN) for n in range(6)} == froms
