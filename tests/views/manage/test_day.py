"""The manager's day: today, closing time, countersigns, minutes."""

from __future__ import annotations

import re
import uuid
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django import DjangoAssertNumQueries

from cases.models import Concession, Countersign, TimeCorrection, WorkSpan
from cases.selectors import flow
from cases.services.assign import hand_on_work
from cases.services.hold import hold_case
from cases.services.stage import start_stage
from cases.views.visitor import TABLET_COOKIE
from tests.factories import NOW, PIN, TABLET_TOKEN, Shop, make_case, rows
from tests.rights.scene import Scene, sent_case
from tests.views.manage.conftest import sign_in
from tests.walk import Clock, do_stage, walk

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from pytest_django.live_server_helper import LiveServer

pytestmark = pytest.mark.usefixtures("clock")


def text_of(answer: Any) -> str:
    """Return what a person reads, tags and runs of blanks taken out."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


def form(**entries: Any) -> dict[str, Any]:
    return {"submission_id": str(uuid.uuid4()), **entries}


@pytest.fixture
def asked(shop: Shop) -> Countersign:
    """A student's wax-up that waits for a signature."""
    case, clock = make_case(shop, ref="Q-1500"), Clock(NOW - timedelta(days=1))
    case_order = {"ordered_on": (NOW - timedelta(days=2)).date()}
    case = make_case(shop, now=clock.now, ref="Q-1501", **case_order)
    walk(shop, case, clock, until="wax")
    do_stage(shop, case.stages.get(key="wax-pass"), clock, who="teo")
    return Countersign.objects.get()


@pytest.fixture
def span(shop: Shop) -> WorkSpan:
    """A stretch of work that the program ended."""
    case, clock = make_case(shop, ref="Q-1600"), Clock(NOW - timedelta(hours=2))
    walk(shop, case, Clock(NOW), until="trim")
    stage = case.stages.get(key="survey")
    later = stage.ready_at or NOW
    start_stage(shop.envelope("mara", now=later), stage=stage.pk, version=stage.version)
    clock.now = later + timedelta(minutes=40)
    hand_on_work(shop.envelope("noor", now=clock.now), person=shop.people["mara"].pk)
    return WorkSpan.objects.get(to_check=True)


def test_today_says_what_is_late_and_why(shop: Shop) -> None:
    late = make_case(shop, ref="Q-1")
    soon = make_case(shop, ref="Q-2")
    held = make_case(shop, ref="Q-3")
    hold_case(
        shop.envelope("noor"), case=held.pk, version=held.version, reason="on-order",
        waits_for="supplier", words="Teeth come on Friday",
    )  # fmt: skip
    rows(lambda record: {
        "a": record.change(late, leaves_at=NOW - timedelta(days=1)),
        "b": record.change(soon, leaves_at=NOW + timedelta(hours=4)),
        "c": record.change(held, leaves_at=NOW + timedelta(hours=4)),
    })  # fmt: skip

    page = sign_in(shop, "pavo").get(reverse("cases:today"))
    assert f"</svg></span> {held.number}" in page.content.decode()
    text = text_of(page)

    assert "One case is late. 2 cases will be late." in text
    assert "1 day late" in text
    assert "On hold since Wednesday 9 December: Teeth come on Friday" in text
    assert "“Unpack and log” could have begun today at 10:42; nobody has." in text
    assert "Teeth or material on order A supplier" in text
    assert "3 came in today" in text or "came in today 3" in text


def test_today_counts_rework_concessions_and_things(scene: Scene) -> None:
    page = sign_in(scene.shop, "pavo").get(reverse("cases:today"))
    conceded = page.content.decode().split('id="conceded"')[1].split("</section>")[0]
    number = Concession.objects.latest("pk").item.case.number
    assert f"</svg></span> {number}" in conceded
    text = text_of(page)

    assert "One failed check accepted this week" in text
    assert "heron concession words" in text
    assert "Flasks: 8 of 8 idle" in text
    assert "Person with the skill away" in text


def test_rework_is_counted_by_stage_with_its_reasons(scene: Scene) -> None:
    case = scene.case("held")
    hold = case.holds.get(released_at=None)
    from cases.services.hold import release_hold

    release_hold(scene.by("noor"), hold=hold.pk)
    do_stage(scene.shop, case.stages.get(key="trim"), Clock(NOW + timedelta(hours=3)))

    found = flow.rework(NOW - flow.LOOK_BACK)

    assert [(one.runs, one.reasons) for one in found] == [(1, (("cast-damaged", 1),))]


def test_empty_lab_says_so(shop: Shop) -> None:
    text = text_of(sign_in(shop, "pavo").get(reverse("cases:today")))

    assert "Nothing is late, and nothing will be as things stand." in text
    assert "Nothing is on hold." in text


def test_closing_names_what_may_not_rest(shop: Shop) -> None:
    walk(shop, make_case(shop), Clock(NOW), until="pour")

    text = text_of(sign_in(shop, "pavo").get(reverse("cases:closing")))

    assert "One case may not stay overnight as it is." in text
    assert "Never leave alginate on the cast overnight." in text
    assert "It goes on tomorrow at 08:00." in text


def test_countersign_is_given_with_one_tap(shop: Shop, asked: Countersign) -> None:
    pavo = sign_in(shop, "pavo")
    assert "“Pass for flasking” by Teo" in text_of(pavo.get(reverse("cases:countersigns")))

    done = pavo.post(reverse("cases:countersign", args=[asked.pk]), form(decision="sign"))

    asked.refresh_from_db()
    assert done.status_code == 303
    assert (asked.agreed, asked.signed_by) == (True, shop.people["pavo"])


def test_returning_needs_words_and_keeps_the_page(shop: Shop, asked: Countersign) -> None:
    pavo = sign_in(shop, "pavo")
    where = reverse("cases:countersign", args=[asked.pk])

    refused = pavo.post(where, form(decision="return"))
    undecided = pavo.post(where, form(words="kept words"))
    done = pavo.post(where, form(decision="return", words="Wax too thin at 36"))

    asked.refresh_from_db()
    assert refused.status_code == undecided.status_code == 422
    assert "Say what has to be better." in text_of(refused)
    assert "kept words</textarea>" in undecided.content.decode()
    assert done.status_code == 303
    assert (asked.agreed, asked.words) == (False, "Wax too thin at 36")


def test_countersigns_are_shown_to_who_may_give_them(shop: Shop, asked: Countersign) -> None:
    where = reverse("cases:countersigns")

    assert "One stage waits" in text_of(sign_in(shop, "oren").get(where))
    assert "Nothing waits for your signature." in text_of(sign_in(shop, "teo").get(where))
    assert sign_in(shop, "noor").get(where).status_code == 404


def test_countersign_at_the_bench_leads_back_to_it(shop: Shop, asked: Countersign) -> None:
    tablet = Client()
    tablet.cookies[TABLET_COOKIE] = TABLET_TOKEN
    tablet.post(reverse("cases:bench-pin", args=[shop.people["oren"].pk]), form(pin=PIN))

    text = text_of(tablet.get(reverse("cases:countersigns")))

    assert "Back to the bench" in text
    assert "Closing time" not in text


def test_minutes_are_corrected_and_the_measured_ones_stay(shop: Shop, span: WorkSpan) -> None:
    pavo = sign_in(shop, "pavo")
    assert "40 minutes measured" in text_of(pavo.get(reverse("cases:minutes")))

    done = pavo.post(
        reverse("cases:minutes-correct", args=[span.pk]), form(minutes="25", reason="forgot-stop")
    )

    row = TimeCorrection.objects.get()
    assert done.status_code == 303
    assert (row.minutes_before, row.minutes, row.by) == (40, 25, shop.people["pavo"])
    assert "All minutes are confirmed." in text_of(pavo.get(reverse("cases:minutes")))


@pytest.mark.parametrize(
    ("entries", "sentence"),
    [
        ({"minutes": "25"}, "This field is required."),
        ({"minutes": "2000", "reason": "forgot-stop"}, "less than or equal to 1440"),
        ({"minutes": "many", "reason": "forgot-stop"}, "Enter a number."),
    ],
)
def test_minutes_refuse_and_keep_what_was_typed(
    shop: Shop, span: WorkSpan, entries: dict[str, str], sentence: str
) -> None:
    where = reverse("cases:minutes-correct", args=[span.pk])

    refused = sign_in(shop, "pavo").post(where, form(**entries))

    assert refused.status_code == 422
    assert sentence in text_of(refused)
    assert f'value="{entries["minutes"]}"' in refused.content.decode()
    assert TimeCorrection.objects.count() == 0


@pytest.mark.parametrize("name", ["countersign", "minutes-correct"])
def test_what_is_not_there_is_not_found(shop: Shop, name: str) -> None:
    where = reverse(f"cases:{name}", args=[999])

    assert sign_in(shop, "pavo").post(where, form(decision="sign")).status_code == 404


def test_work_to_confirm_stands_with_the_arch_of_its_case(shop: Shop, span: WorkSpan) -> None:
    page = sign_in(shop, "pavo").get(reverse("cases:today")).content.decode()

    (confirm,) = page.split('id="confirm"')[1:]
    assert confirm.split("</section>")[0].count('<div class="arch-face"><svg') == 1


@pytest.mark.parametrize("cases", [1, 3, 60])
def test_today_takes_the_same_queries(
    shop: Shop, cases: int, django_assert_num_queries: DjangoAssertNumQueries
) -> None:
    for n in range(cases):
        case = make_case(shop, ref=f"Q-{n:04d}")
        hold_case(
            shop.envelope("noor"), case=case.pk, version=case.version, reason="on-order",
            waits_for="supplier",
        )  # fmt: skip
    pavo = sign_in(shop, "pavo")
    pavo.get(reverse("cases:today"))

    with django_assert_num_queries(25):
        pavo.get(reverse("cases:today"))


@pytest.mark.browser
@pytest.mark.django_db(transaction=True)
def test_manager_signs_in_the_browser(
    shop: Shop, asked: Countersign, page: Page, live_server: LiveServer
) -> None:
    page.goto(f"{live_server.url}/sign-in/?next=/manage/")
    page.get_by_label("User name").fill("pavo")
    page.get_by_label("Password").fill("pavo-pass-2026")
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/manage/", wait_until="load")

    page.get_by_role("link", name="Pass for flasking").click()
    # The alarms come after the page and move it.
    page.wait_for_url("**/countersigns/*", wait_until="networkidle")
    page.get_by_role("button", name="Sign", exact=True).click()

    page.get_by_text("Signed: Pass for flasking").wait_for()
    asked.refresh_from_db()
    assert asked.agreed is True


def test_sent_case_counts_as_left(shop: Shop) -> None:
    sent = sent_case(Scene(shop))
    assert sent.closed_at is not None

    found = flow.figures(day_began=sent.closed_at - timedelta(hours=1), week_began=NOW)

    assert (found.left_today, found.left_week, found.here) == (1, 0, 0)
