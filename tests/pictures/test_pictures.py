"""The pictures themselves, one test a state and page family.

They are kept in ``var/pictures`` (``LABFLOW_PICTURES`` names another folder). What is photographed
stands in ``album/``; ``test_album.py`` holds that nothing is left out.
"""

from __future__ import annotations

import pytest
from django.urls import reverse

from tests.pictures.album import FAMILIES, album
from tests.pictures.album.entries import NO_FORM, NoPicture, Picture, Sent
from tests.pictures.camera import Camera
from tests.pictures.conftest import House

pytestmark = [
    pytest.mark.browser,
    pytest.mark.pictures,
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(900),
]

LABS = {"data": "data", "error": "data", "long": "long", "empty": "empty", "fresh": "fresh"}
"""The lab in which each state is photographed. The manager's empty pages are those of a lab that
was set up a minute ago, everybody else's those of a lab with people and nothing to do."""

# Both states of one lab go to one worker (pytest-xdist, --dist loadgroup).
STATES = [
    pytest.param(state, marks=pytest.mark.xdist_group("with cases" if lab == "data" else "others"))
    for state, lab in LABS.items()
]


def wanted(picture: Picture, state: str) -> bool:
    """Tell whether a picture of the album has this state."""
    if state == "error":
        return isinstance(picture.error, Sent)
    if state == "data":
        return True
    if state == "long":
        return picture.long == ""
    return picture.empty == "" and (picture.who == "pavo") == (state == "fresh")


def take(camera: Camera, address: str, picture: Picture, state: str) -> None:
    """Photograph one page in one state."""
    from playwright.sync_api import Error

    parts = {part: camera.world.objects[what] for part, what in picture.names.items()}
    path = reverse(f"cases:{address}", kwargs=parts) + picture.query
    shown = "empty" if state == "fresh" else state
    name = "-".join(filter(None, (address, picture.label, shown)))
    camera.enter(picture.who)
    sent = picture.error if state == "error" and isinstance(picture.error, Sent) else None
    try:
        camera.shoot(name, path, status=picture.status, sent=sent)
    except Error as error:
        camera.faults.append(f"{name}: {error}")
    if state == "data" and picture.error == NO_FORM and camera.has_form():
        camera.faults.append(f"{name} has a form, and the album says it has none")


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("family", FAMILIES)
def test_pages(camera: Camera, house: House, state: str, family: str) -> None:
    camera.world = house.world(LABS[state])

    for address, pictures in album(family).items():
        for picture in () if isinstance(pictures, NoPicture) else pictures:
            if wanted(picture, state):
                take(camera, address, picture, state)

    assert camera.faults == []


@pytest.mark.xdist_group("others")
def test_page_before_the_lab_is_set_up(camera: Camera, house: House) -> None:
    house.clear()

    camera.enter("")
    camera.shoot("first-run-empty", "/set-up/")
    camera.shoot("first-run-error", "/set-up/", sent=Sent())

    assert camera.faults == []


@pytest.mark.xdist_group("others")
def test_page_that_is_not_there(camera: Camera, house: House) -> None:
    camera.world = house.world("empty")

    for who, label in (("", "nobody"), ("noor", "desk"), ("mara@tablet", "tablet")):
        camera.enter(who)
        camera.shoot(f"not-found-{label}", "/nothing/", status=404)

    assert camera.faults == []
