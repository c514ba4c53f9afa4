"""Where is everything: what the page finds, says and asks of the database."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils.html import strip_tags
from pytest_django import DjangoAssertNumQueries

from cases.models import Case, CaseStage
from cases.selectors.open_cases import Counts
from cases.services.close_case import cancel_case
from cases.views.desk.open_cases import A_PAGE, heading
from tests.factories import NOW, Shop, log, make_case, rows, start_stage
from tests.views.desk.conftest import sign_in

DESK = "/desk/"


def words(response: Any) -> str:
    return " ".join(strip_tags(response.content.decode()).split())


def numbers(response: Any) -> list[str]:
    return [row.case.number for row in response.context["rows"]]


def hours_late(case: Case, hours: float) -> None:
    """Let a case have missed its van."""
    due = NOW - timedelta(hours=hours)
    rows(
        lambda record: {
            "case": record.change(Case.objects.get(pk=case.pk), leaves_at=due),
        }
    )


class TestPage:
    def test_row_says_where_a_case_is(self, desk: Client, shop: Shop) -> None:
        case = make_case(shop)
        stage = case.stages.get(key="receive")
        start_stage(shop.envelope("teo", door="bench"), stage=stage.pk, version=stage.version)

        page = words(desk.get(DESK))

        assert "One case in the lab." in page
        assert f"{case.number}Practice at the quay · Q-1180" in page
        assert "Unpack and log Teo (student) Mon 21 Dec 16:00 pour before 10:52" in page

    def test_late_and_held_are_marked_in_words(self, desk: Client, shop: Shop) -> None:
        hours_late(make_case(shop, ref="Q-1"), 48)
        make_case(shop, ref="Q-2", shade_how="", rush=True)

        page = words(desk.get(DESK))

        assert "2 cases in the lab. One is late, one waits for an answer." in page
        assert "2 days late" in page
        assert "the practice: shade?" in page
        assert "rush" in page

    def test_empty_lab_says_how_a_case_gets_here(self, desk: Client, shop: Shop) -> None:
        page = words(desk.get(DESK))

        assert "No case is in the lab." in page
        assert "from the moment its impression is logged" in page

    def test_what_leaves_soonest_stands_first(self, desk: Client, shop: Shop) -> None:
        later = make_case(shop, ref="Q-1")
        sooner = make_case(shop, ref="Q-2")
        undated = make_case(shop, ref="Q-3", appointment_on=None)
        hours_late(sooner, 1)

        assert numbers(desk.get(DESK)) == [sooner.number, later.number, undated.number]

    def test_log_action_is_for_who_may_log(self, shop: Shop, clock: None) -> None:
        assert "Log an impression" in words(sign_in(shop, "noor").get(DESK))
        assert "Log an impression" not in words(sign_in(shop, "mara").get(DESK))

    @pytest.mark.parametrize("who", ["lind", "remy", "vega"])
    def test_people_of_a_practice_do_not_see_it(self, shop: Shop, clock: None, who: str) -> None:
        make_case(shop)

        assert sign_in(shop, who).get(DESK).status_code == 404


class TestSearch:
    def test_number_leads_to_its_case(self, desk: Client, shop: Shop) -> None:
        case = make_case(shop)

        response = desk.get(DESK, {"q": case.number.replace("-", " ").lower()})

        assert response["Location"] == reverse("cases:case", args=[case.number])

    def test_wrong_check_character_is_said(self, desk: Client, shop: Shop) -> None:
        number = make_case(shop).number
        wrong = number[:-1] + ("A" if number[-1] != "A" else "B")

        page = desk.get(DESK, {"q": wrong})

        assert "has a mistake in it" in words(page)
        assert f'value="{wrong}"' in page.content.decode()

    @pytest.mark.parametrize("typed", ["q-118", "quay", "Q", "26-0"])
    def test_reference_practice_and_part_of_a_number_are_found(
        self, desk: Client, shop: Shop, typed: str
    ) -> None:
        case = make_case(shop)

        assert numbers(desk.get(DESK, {"q": typed})) == [case.number]

    def test_closed_cases_are_found_after_the_open_ones(self, desk: Client, shop: Shop) -> None:
        closed = make_case(shop, ref="Q-1")
        cancel_case(shop.envelope("noor"), case=closed.pk, version=1, reason="Patient moved")
        still = make_case(shop, ref="Q-11")

        page = desk.get(DESK, {"q": "Q-1"})

        assert numbers(page) == [still.number, closed.number]
        assert "Cancelled Wed 9 Dec" in words(page)
        assert numbers(desk.get(DESK)) == [still.number]

    def test_nothing_found_says_what_to_change(self, desk: Client, shop: Shop) -> None:
        make_case(shop)

        assert "No case fits." in words(desk.get(DESK, {"q": "nowhere"}))


class TestSentence:
    @pytest.fixture
    def two(self, desk: Client, shop: Shop) -> tuple[Case, Case]:
        """One case in hand at Mara, one that waits for the practice and is late."""
        first, second = make_case(shop, ref="Q-1"), make_case(shop, ref="Q-2", shade_how="")
        stage = first.stages.get(key="receive")
        start_stage(shop.envelope("mara", door="bench"), stage=stage.pk, version=stage.version)
        hours_late(second, 3)
        return first, second

    @pytest.mark.parametrize(
        ("entry", "value", "place"),
        [
            ("who", "mara", 0),
            ("who", "nobody", 1),
            ("show", "late", 1),
            ("show", "held", 1),
            ("show", "asked", 1),
        ],
    )
    def test_each_word_narrows(
        self,
        desk: Client,
        shop: Shop,
        two: tuple[Case, Case],
        entry: str,
        value: str,
        place: int,
    ) -> None:
        wanted = str(shop.people[value].pk) if value in shop.people else value

        assert numbers(desk.get(DESK, {entry: wanted})) == [two[place].number]

    def test_stage_and_practice_narrow(
        self, desk: Client, shop: Shop, two: tuple[Case, Case]
    ) -> None:
        assert len(numbers(desk.get(DESK, {"stage": "receive"}))) == 2
        assert numbers(desk.get(DESK, {"stage": "polish"})) == []
        assert numbers(desk.get(DESK, {"practice": shop.other_practice.pk})) == []

    @pytest.mark.parametrize("asked", [{"show": "x"}, {"practice": "x"}, {"page": "99"}])
    def test_unknown_word_narrows_nothing(
        self, desk: Client, two: tuple[Case, Case], asked: dict[str, str]
    ) -> None:
        assert len(numbers(desk.get(DESK, asked))) == 2


class TestQueries:
    @pytest.mark.parametrize("count", [1, 3, A_PAGE])
    def test_number_of_queries_does_not_grow_with_the_rows(
        self,
        desk: Client,
        shop: Shop,
        count: int,
        django_assert_num_queries: DjangoAssertNumQueries,
    ) -> None:
        for n in range(count):
            log(shop, ref=f"Q-{n}", shade_how="" if n % 2 else "laboratory")
        desk.get(DESK)

        # Lab, tablet-less session, user, person; route, people, practices for the sentence;
        # count, keys, cases, stages, holds; the house; the clock.
        with django_assert_num_queries(14):
            response = desk.get(DESK)

        assert len(response.context["rows"]) == count

    def test_sixty_rows_are_a_page(self, desk: Client, shop: Shop) -> None:
        first = make_case(shop)
        columns = {
            field.attname: getattr(first, field.attname)
            for field in Case._meta.concrete_fields
            if field.attname not in ("id", "number")
        }
        Case.objects.bulk_create(Case(number=f"x{n}", **columns) for n in range(A_PAGE))

        page, second = desk.get(DESK), desk.get(DESK, {"page": 2})

        assert (len(numbers(page)), len(numbers(second))) == (A_PAGE, 1)
        assert "1 to 60 of 61" in words(page)

    def test_only_stages_at_which_a_case_stands_are_read(self, desk: Client, shop: Shop) -> None:
        make_case(shop)
        assert CaseStage.objects.count() > 20

        (row,) = desk.get(DESK).context["rows"]

        assert row.beside == ""


@pytest.mark.parametrize(
    ("counts", "sentence"),
    [
        (Counts(0, 0, 0, 0), "No case is in the lab."),
        (Counts(1, 0, 0, 0), "One case in the lab."),
        (Counts(7, 0, 0, 0), "7 cases in the lab. None is late, none waits for an answer."),
        (
            Counts(62, 2, 1, 1),
            "62 cases in the lab. 2 are late, one leaves today, one waits for an answer.",
        ),
    ],
)
def test_heading_states_the_findings(counts: Counts, sentence: str) -> None:
    assert heading(counts) == sentence


def test_days_are_those_of_the_lab(shop: Shop) -> None:
    """At 23:30 UTC it is already tomorrow on the wall in Vienna."""
    case = make_case(shop)
    hours_late(case, -14.5)  # leaves at 00:12 UTC on the tenth, 01:12 on the wall
    before, after = NOW + timedelta(hours=13), NOW + timedelta(hours=13.8)

    with time_machine.travel(before, tick=False):
        heading_before = sign_in(shop, "noor").get(DESK).context["heading"]
    with time_machine.travel(after, tick=False):
        heading_after = sign_in(shop, "noor").get(DESK).context["heading"]

    assert heading_before == "One case in the lab."
    assert heading_after == "One case in the lab. One leaves today."
