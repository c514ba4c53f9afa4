"""Photograph the pages of the album, one state and page family at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.urls import reverse

from tests.pictures.album import album
from tests.pictures.album.entries import NO_FORM, NoPicture, Picture, Sent
from tests.pictures.camera import Camera

if TYPE_CHECKING:
    from tests.pictures.conftest import House

LABS = {"data": "data", "error": "data", "long": "long", "empty": "empty", "fresh": "fresh"}
"""The lab in which each state is photographed. The manager's empty pages are those of a lab that
was set up a minute ago, everybody else's those of a lab with people and nothing to do."""


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


def photograph(camera: Camera, house: House, state: str, family: str) -> None:
    """Photograph every page of a family that has this state; the camera gathers what is wrong."""
    camera.world = house.world(LABS[state])
    for address, pictures in album(family).items():
        for picture in () if isinstance(pictures, NoPicture) else pictures:
            if wanted(picture, state):
                take(camera, address, picture, state)
