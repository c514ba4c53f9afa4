"""The pages after a power cut and for a stage held longer, without scripts."""

from __future__ import annotations

import html
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from cases.models import Load, LoadExtension, Note, PlanCase, PowerCut, Resin
from cases.services.planner import mend
from cases.services.stage import start_stage
from tests.factories import rows
from tests.services.test_cut import WHY, Night
from tests.services.test_load import stage_of
from tests.views.load.test_record import client_of

pytestmark = pytest.mark.django_db
NEW = "/loads/power-cut/"


@pytest.fixture
def night() -> Iterator[Night]:
    night = Night("long", "long")
    with time_machine.travel(night.now, tick=False):
        yield night


@pytest.fixture
def oren(night: Night) -> Client:
    return client_of(night.bench.shop, "oren")


def wall(at: datetime, form: str = "%H:%M") -> str:
    """Return what the clock on the lab's wall says at an instant."""
    return at.astimezone(ZoneInfo("Europe/Vienna")).strftime(form)


def seen(night: Night, **changes: str) -> dict[str, str]:
    told = {
        "off_at": wall(night.off, "%Y-%m-%dT%H:%M"),
        "on_at": wall(night.on, "%Y-%m-%dT%H:%M"),
        "found-1": "46",
        "found-2": "",
    }
    return told | changes


def text(answer: Any) -> str:
    return html.unescape(answer.content.decode())


def body(answer: Any, **told: str) -> dict[str, Any]:
    """Return what the page's form would send, with what a person entered."""
    form = answer.context["form"]
    found = {name: form[name].value() for name in form.fields}
    kept = {name: value for name, value in found.items() if value is not None}
    return kept | {"words": WHY, **told}


def test_page_asks_and_names_what_is_in_a_bath(oren: Client) -> None:
    page = text(oren.get(NEW))

    assert "Load 1, Cauldron" in page
    assert "Load 2, Cauldron 2" in page
    assert "The power went at" in page
    assert "No power from" not in page


def test_one_decision_is_made_for_all_loads(oren: Client, night: Night) -> None:
    asked = oren.get(NEW, seen(night))
    page = text(asked)
    sent = body(asked, **{"decision-1": "longer", "decision-2": "scrap"})

    done = oren.post(NEW, sent, follow=True)

    assert "Heating estimate only" in page
    assert "makes up the heating time of stage 1" in page
    assert night.cases[0][0].number in page
    assert asked.context["form"]["decision-1"].value() is None
    assert asked.context["form"]["minutes-1"].value() == 323
    kept = text(done)
    assert "Decided by Oren" in kept
    assert WHY in kept
    assert "Scrap the resin and pack anew" in kept
    assert "Limits: complete from 98\u00a0%, doubtful from 85\u00a0%" in kept
    assert f"stage 1, 323 min from {wall(night.now, '%a')}" in kept
    moved = night.again(0).ends_at
    assert moved == night.now + timedelta(minutes=323)
    assert stage_of(night.cases[1][0], "pack").state == "planned"
    shown = text(oren.get(reverse("cases:load", args=[1])))
    assert "min later than by its program" in shown
    assert f"{wall(moved)}" in shown
    assert reverse("cases:cut", args=[PowerCut.objects.get().pk]) in shown


def test_what_each_load_lacks_is_said_once(oren: Client, night: Night) -> None:
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=False)})
    asked = oren.get(NEW, seen(night))

    done = oren.post(
        NEW, body(asked, **{"decision-1": "as-is", "decision-2": "as-is"}), follow=True
    )

    for answer in (asked, done):
        # Both loads lack heat: one sentence each.
        assert text(answer).count("Stage 1 was cut short") == 2


def test_decision_stands_in_the_history_of_each_case(oren: Client, night: Night) -> None:
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "as-is", "decision-2": "scrap"})
    oren.post(NEW, sent)

    left, scrapped = (
        text(oren.get(reverse("cases:case", args=[group[0].number]))) for group in night.cases
    )

    assert "Oren decided after a power cut: leave it as it is." in left
    assert "Oren decided after a power cut: scrap the resin and pack anew." in scrapped
    assert WHY in left
    assert "Cure cut short".lower() in scrapped.lower()


def test_repeated_cure_is_told_as_that_and_not_as_a_stage_done_again(
    oren: Client, night: Night
) -> None:
    asked = oren.get(NEW, seen(night))
    sent = body(asked, **{"decision-1": "again", "decision-2": "as-is"})

    kept = text(oren.post(NEW, sent, follow=True))
    case = text(oren.get(reverse("cases:case", args=[night.cases[0][0].number])))

    words = "epeat the cure: the flasks go into a bath again"
    assert f"R{words}" in text(asked)
    assert f"<strong>R{words}</strong>" in kept
    assert "do the stage again whole" not in kept
    assert f"Oren decided after a power cut: r{words}." in case


def test_wall_and_bench_show_the_new_times(oren: Client, night: Night) -> None:
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "longer", "decision-2": "as-is"})
    oren.post(NEW, sent)
    ends = night.again(0).ends_at
    assert ends
    cool = stage_of(night.cases[0][0], "cool")

    page = text(oren.get(reverse("cases:wall")))
    stage = text(oren.get(reverse("cases:bench-stage", args=[cool.pk])))

    assert f"74 °C until {wall(ends)}" in page
    assert f"{wall(ends)}" in stage


@pytest.mark.parametrize(
    ("changes", "field", "sentence"),
    [
        ({"off_at": "", "on_at": ""}, "off_at", "one of the two at least"),
        ({"off_at": "yesterday"}, "off_at", "Enter a day and a time."),
        ({"on_at": "2030-01-01T10:00"}, "on_at", "That has not been yet."),
        ({"found-1": "300"}, "found-1", "less than or equal to 105"),
    ],
)
def test_bad_entries_are_refused_beside_their_field_and_kept(
    oren: Client, night: Night, changes: dict[str, str], field: str, sentence: str
) -> None:
    asked = seen(night, **changes)

    answer = oren.get(NEW, asked)

    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["seen"].errors[field])
    assert f'value="{asked["found-1"]}"' in text(answer)


def test_what_is_not_chosen_is_asked_again_and_nothing_typed_is_lost(
    oren: Client, night: Night
) -> None:
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "longer", "minutes-1": "0"})

    unchosen = oren.post(NEW, sent)
    absurd = oren.post(NEW, sent | {"decision-2": "as-is"})

    assert unchosen.status_code == absurd.status_code == 422
    assert "decision-2" in unchosen.context["form"].errors
    assert "1 to 1440 minutes" in " ".join(absurd.context["form"].errors["minutes-1"])
    assert WHY in text(absurd)
    assert not PowerCut.objects.exists()


def test_page_names_what_is_out_of_its_flask_before_it_is_decided() -> None:
    night = Night("long", cases=2)
    night.take_out()
    night.now += timedelta(hours=2)
    first, second = night.cases[0]
    deflask = stage_of(first, "deflask")
    start_stage(night.envelope("mara"), stage=deflask.pk, version=deflask.version)

    with time_machine.travel(night.now, tick=False):
        page = text(client_of(night.bench.shop, "oren").get(NEW, seen(night)))

    inside = page[page.index("In it:") : page.index("Out of the flask already")]
    out = page[page.index("Out of the flask already") : page.index("What is done with load 1?")]
    assert (second.number in inside, first.number in inside) == (True, False)
    assert first.number in out


def test_two_people_decide_and_the_second_is_told(oren: Client, night: Night) -> None:
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "longer", "decision-2": "as-is"})
    oren.post(NEW, sent)

    second = client_of(night.bench.shop, "pavo").post(NEW, sent)
    anew = client_of(night.bench.shop, "pavo").get(NEW, seen(night))
    third = client_of(night.bench.shop, "pavo").post(
        NEW, body(anew, **{"decision-1": "as-is", "decision-2": "as-is"})
    )

    assert (second.status_code, third.status_code) == (422, 422)
    assert "changed by somebody else" in text(second)
    assert "Oren decided about load 1 for this power cut already" in text(third)
    assert PowerCut.objects.count() == 1


def test_time_at_which_no_load_was_in_a_bath_asks_for_nothing(oren: Client, night: Night) -> None:
    early = {
        "off_at": f"{night.began - timedelta(hours=9):%Y-%m-%dT%H:%M}",
        "on_at": f"{night.began - timedelta(hours=8):%Y-%m-%dT%H:%M}",
    }

    assert "No load was in a bath then" in text(oren.get(NEW, early))


def test_practice_reads_that_its_work_is_delayed(oren: Client, night: Night) -> None:
    case = night.cases[1][0]
    rows(lambda record: {"c": record.change(case, leaves_at=night.now + timedelta(hours=2))})
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "as-is", "decision-2": "scrap"})

    done = oren.post(NEW, sent, follow=True)
    portal = client_of(night.bench.shop, "lind").get(
        reverse("cases:practice-case", args=[case.number])
    )

    assert f"The practice was told of one case: {case.number}" in text(done)
    assert "The work was delayed by a power cut. A new date follows." in text(portal)
    assert WHY not in text(portal)
    assert Note.objects.filter(visible_to_practice=True).count() == 1


def test_decided_cut_tells_the_new_days_of_what_it_moved(oren: Client, night: Night) -> None:
    sent = body(oren.get(NEW, seen(night)), **{"decision-1": "as-is", "decision-2": "scrap"})
    oren.post(NEW, sent)
    left, scrapped = (group[0] for group in night.cases)
    page = reverse("cases:cut", args=[PowerCut.objects.get().pk])
    noor = client_of(night.bench.shop, "noor")
    unknown = text(noor.get(page))

    plan = mend(night.now)
    assert plan is not None
    PlanCase.objects.filter(plan=plan).update(
        leaves_at=night.now + timedelta(days=6), late_minutes=60
    )
    known = text(noor.get(page))

    assert "There is no plan yet" in unknown
    dates = known[known.index("When it leaves now") : known.index("Load 1, Cauldron")]
    assert f"By the plan of {wall(plan.made_at)}." in dates
    assert left.number not in dates
    day = wall(night.now + timedelta(days=6), "%Y-%m-%d")
    promise = reverse("cases:case-promise", args=[scrapped.number])
    assert f'href="{promise}?ship_on={day}&reason=Delayed+by+a+power+cut."' in dates


@pytest.mark.parametrize("loads", [1, 3])
def test_page_of_a_decision_asks_the_same_whatever_it_concerns(
    loads: int, django_assert_max_num_queries: Callable[[int], AbstractContextManager[object]]
) -> None:
    night = Night(*["long"] * loads)
    night.decide(*["as-is"] * loads)
    client = client_of(night.bench.shop, "oren")

    with time_machine.travel(night.now, tick=False), django_assert_max_num_queries(18):
        client.get(reverse("cases:cut", args=[PowerCut.objects.get().pk]))


# --- held longer -----------------------------------------------------------------------------


def test_stage_is_held_longer_from_its_page(oren: Client, night: Night) -> None:
    address = reverse("cases:load-longer", args=[1])
    shown = text(oren.get(address))
    version = night.again(0).version
    refused = oren.post(address, {"version": version, "minutes": "0", "words": "Slow"})
    unsaid = oren.post(address, {"version": version, "minutes": "abc", "words": "Slow"})

    done = oren.post(address, {"version": version, "minutes": "30", "words": "Slow"}, follow=True)

    assert "Stage 1, 74 °C: by its program until" in shown
    assert (refused.status_code, unsaid.status_code) == (422, 422)
    assert "1 to 1440 minutes" in " ".join(refused.context["form"].errors["minutes"])
    assert "Slow" in text(unsaid)
    row = Load.objects.get(number=1)
    assert row.ends_at
    assert f"the program now ends at {wall(row.ends_at)}" in text(done)
    assert "Stage 1 ends 30 min later" in text(done)
    assert LoadExtension.objects.get().minutes == 30


def test_page_says_why_a_stage_cannot_be_held_longer(oren: Client, night: Night) -> None:
    rows(lambda record: {"r": record.change(Resin.objects.get(), resumable=False)})

    assert "does not say that a cycle may be resumed" in text(
        oren.get(reverse("cases:load-longer", args=[1]))
    )
