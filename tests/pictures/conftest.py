"""A browser window for photographs, and the labs: each is made once and photographed whole."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
import time_machine
from django.core.management import call_command
from django.test import override_settings
from pytest_django import DjangoDbBlocker
from pytest_django.live_server_helper import LiveServer

from tests.factories import NOW
from tests.pictures.camera import Camera
from tests.pictures.worlds import World, make_world

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SETTINGS = override_settings(
    PASSWORD_HASHERS=["django.contrib.auth.hashers.MD5PasswordHasher"], ALLOWED_HOSTS=["localhost"]
)


@dataclass
class House:
    """The running program and the lab that is in it; another lab takes its place when asked for."""

    address: str
    files: Path
    kind: str = ""
    lab: World | None = None

    def world(self, kind: str) -> World:
        """Return the lab of a kind, making it unless it is there already."""
        if self.kind != kind or self.lab is None:
            self.clear()
            self.lab, self.kind = make_world(kind), kind
        return self.lab

    def clear(self) -> None:
        """Leave a house in which nothing is set up."""
        call_command("flush", verbosity=0, interactive=False)
        self.lab, self.kind = None, ""


@pytest.fixture
def _django_db_helper() -> None:
    """Let no test here flush the database or stand in a transaction, as its mark asks for.

    The mark is what makes pytest-django set the database up; the labs in it outlive a test.
    """


@pytest.fixture(scope="module")
def _running(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[House]:
    files = tmp_path_factory.mktemp("files")
    with django_db_blocker.unblock(), SETTINGS:
        server = LiveServer("localhost")
        house = House(server.url, files)
        yield house
        server.stop()
        house.clear()


@pytest.fixture
def house(_running: House, settings: Any) -> Iterator[House]:
    """The house at the instant of the tests, its clock going on from there."""
    settings.MEDIA_ROOT = _running.files
    with time_machine.travel(NOW, tick=True):
        yield _running


@pytest.fixture
def window(_browser: Browser) -> Iterator[Page]:
    """A fresh window. Unlike ``page`` it does not mind what axe itself does against the policy."""
    context = _browser.new_context(
        locale="en-GB", timezone_id="UTC", color_scheme="light", reduced_motion="reduce"
    )
    context.set_default_timeout(10_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    yield page
    context.close()
    assert faults == []


@pytest.fixture
def camera(window: Page, house: House, axe_source: str) -> Camera:
    """A camera in a house that has no lab yet: ``house.world`` makes one."""
    return Camera(window, house.address, axe_source, World({}))
