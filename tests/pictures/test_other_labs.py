"""Pictures of labs with the longest words, with nothing to do, just set up, and not set up yet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pictures.album import FAMILIES
from tests.pictures.album.entries import Sent
from tests.pictures.camera import Camera
from tests.pictures.shooting import photograph

if TYPE_CHECKING:
    from tests.pictures.conftest import House

pytestmark = [
    pytest.mark.browser,
    pytest.mark.pictures,
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(900),
]


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("state", ["long", "empty", "fresh"])
def test_pages(camera: Camera, house: House, state: str, family: str) -> None:
    photograph(camera, house, state, family)

    assert camera.faults == []


def test_page_before_the_lab_is_set_up(camera: Camera, house: House) -> None:
    house.clear()

    camera.enter("")
    camera.shoot("first-run-empty", "/set-up/")
    camera.shoot("first-run-error", "/set-up/", sent=Sent())

    assert camera.faults == []


def test_page_that_is_not_there(camera: Camera, house: House) -> None:
    camera.world = house.world("empty")

    for who, label in (("", "nobody"), ("noor", "desk"), ("mara@tablet", "tablet")):
        camera.enter(who)
        camera.shoot(f"not-found-{label}", "/nothing/", status=404)

    assert camera.faults == []
