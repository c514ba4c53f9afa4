"""The pictures themselves, one test a family and state.

They are kept in ``var/pictures`` (``LABFLOW_PICTURES`` names another folder).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import pytest

from cases.models import Question
from tests.pictures.camera import Camera
from tests.pictures.worlds import World, empty, with_cases

if TYPE_CHECKING:
    from playwright.sync_api import Page
    from pytest_django.live_server_helper import LiveServer

pytestmark = [
    pytest.mark.browser,
    pytest.mark.pictures,
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(600),
]

Family = Callable[[Camera, World], None]


@pytest.fixture
def camera(window: Page, live_server: LiveServer, axe_source: str) -> Camera:
    return Camera(window, live_server.url, axe_source, [])


def bench(camera: Camera, world: World, state: str) -> None:
    """The tablet: names, PIN, my work, a stage, its small pages."""
    mara = world.shop.people["mara"]
    oren = world.shop.people["oren"]
    camera.enter(None, at_bench=True)
    camera.shoot(f"bench-names-{state}", "/bench/who/")
    camera.shoot(f"bench-pin-{state}", f"/bench/who/{mara.pk}/")
    camera.enter(mara, at_bench=True)
    camera.shoot(f"bench-{state}", "/bench/")
    if not world.cases:
        return
    survey = world.cases["trim"].stages.get(key="survey")
    camera.shoot(f"bench-stage-survey-{state}", f"/bench/stage/{survey.pk}/")
    camera.shoot(f"design-bench-{state}", f"/cases/{world.number('trim')}/design/")
    camera.enter(oren, at_bench=True)
    stage = world.cases["wax"].stages.get(key="wax-pass")
    for name in ("", "back/", "hold/", "ask/"):
        label = name.strip("/") or "stage"
        camera.shoot(f"bench-{label}-{state}", f"/bench/stage/{stage.pk}/{name}")


def desk(camera: Camera, world: World, state: str) -> None:
    """The desk: open cases, intake, absence."""
    camera.enter(world.shop.people["noor"])
    camera.shoot(f"desk-{state}", "/desk/")
    camera.shoot(f"log-{state}", "/desk/log/")
    camera.shoot(f"away-{state}", "/desk/away/")
    if world.cases:
        camera.shoot(f"logged-{state}", f"/desk/log/done/{world.number('new')}/")


def case(camera: Camera, world: World, state: str) -> None:
    """The case page and its small pages."""
    if not world.cases:
        return
    camera.enter(world.shop.people["noor"])
    for name in ("new", "block-out", "inspect", "send"):
        camera.shoot(f"case-{name}-{state}", f"/cases/{world.number(name)}/")
    base = f"/cases/{world.number('wax')}/"
    pages = (
        "ask/",
        "ask/3/",
        "hold/",
        "note/",
        "photograph/",
        "promise/",
        "cancel/",
        "order/",
        "order/change/",
        "new-impression/",
        "remake/",
    )
    for path in pages:
        label = path.strip("/").replace("/", "-")
        camera.shoot(f"case-{label}-{state}", base + path)
    question = Question.objects.filter(case=world.cases["block-out"]).first()
    if question is not None:
        answer = f"/cases/{world.number('block-out')}/questions/{question.pk}/answer/"
        camera.shoot(f"case-answer-{state}", answer)


def portal(camera: Camera, world: World, state: str) -> None:
    """The dentist's side."""
    camera.enter(world.shop.people["lind"])
    camera.shoot(f"practice-{state}", "/practice/")
    camera.shoot(f"practice-sent-{state}", "/practice/sent/")
    for name in ("block-out", "send") if world.cases else ():
        camera.shoot(f"practice-case-{name}-{state}", f"/practice/{world.number(name)}/")


def manage(camera: Camera, world: World, state: str) -> None:
    """The manager's day."""
    camera.enter(world.shop.people["pavo"])
    for path in ("/manage/", "/manage/closing/", "/manage/countersigns/"):
        camera.shoot(f"{path.strip('/').replace('/', '-')}-{state}", path)


def van(camera: Camera, world: World, state: str) -> None:
    """Packing and the van."""
    camera.enter(world.shop.people["noor"])
    for path in ("/van/", "/van/round/", "/van/day/"):
        camera.shoot(f"{path.strip('/').replace('/', '-')}-{state}", path)
    if world.cases:
        camera.shoot(f"van-pack-{state}", f"/van/pack/{world.shop.practice.pk}/")


def lab(camera: Camera, world: World, state: str) -> None:
    """The lab's own settings."""
    camera.enter(world.shop.people["pavo"])
    mara = world.shop.people["mara"]
    paths = ["", "profile/", "people/", f"people/{mara.pk}/", "skills/", "hours/",
             "closed-days/", "closed-days/holidays/", "stations/", "baths/", "things/",
             "tablets/", "practices/", "practices/new/",
             f"practices/{world.shop.practice.pk}/", "route/"]  # fmt: skip
    for path in paths:
        label = "".join(part if not part.isdigit() else "one" for part in path.split("/"))
        camera.shoot(f"lab-{label or 'index'}-{state}", f"/lab/{path}")


def account(camera: Camera, world: World, state: str) -> None:
    """Coming in."""
    camera.enter(None)
    camera.shoot(f"sign-in-{state}", "/sign-in/")
    camera.shoot(f"password-{state}", "/password/")
    camera.enter(world.shop.people["noor"])
    camera.shoot(f"account-{state}", "/account/")
    camera.shoot(f"account-password-{state}", "/account/password/")


FAMILIES = (bench, desk, case, portal, manage, van, lab, account)


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.__name__)
def test_pages_with_cases(camera: Camera, family: Callable[..., None]) -> None:
    family(camera, with_cases(), "data")

    assert camera.faults == []


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.__name__)
def test_pages_of_an_empty_lab(camera: Camera, family: Callable[..., None]) -> None:
    family(camera, empty(), "empty")

    assert camera.faults == []


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.__name__)
def test_pages_with_long_words(camera: Camera, family: Callable[..., None]) -> None:
    family(camera, with_cases(long_words=True), "long")

    assert camera.faults == []


def test_first_run_page(camera: Camera) -> None:
    camera.enter(None)
    camera.shoot("first-run-empty", "/set-up/")
    camera.shoot("first-run-error", "/set-up/", submit=True)

    assert camera.faults == []


def test_forms_sent_empty(camera: Camera) -> None:
    world = with_cases()
    wax = f"/cases/{world.number('wax')}/"
    camera.enter(None)
    camera.shoot("sign-in-error", "/sign-in/", submit=True)
    camera.enter(world.shop.people["noor"])
    camera.shoot("log-error", "/desk/log/", submit=True)
    for path in ("hold/", "note/", "photograph/", "promise/", "cancel/", "order/change/"):
        camera.shoot(f"case-{path.strip('/').replace('/', '-')}-error", wax + path, submit=True)
    camera.enter(world.shop.people["pavo"])
    for path in ("profile/", "people/", "skills/", "stations/", "baths/", "things/",
                 "practices/new/"):  # fmt: skip
        label = path.strip("/").replace("/", "-")
        camera.shoot(f"lab-{label}-error", f"/lab/{path}", submit=True)
    camera.enter(world.shop.people["mara"], at_bench=True)
    camera.shoot("bench-pin-error", f"/bench/who/{world.shop.people['oren'].pk}/", submit=True)

    assert camera.faults == []
