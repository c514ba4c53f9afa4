"""Nothing that shows a page is left out of the pictures: the addresses come from the URL resolver.

What an address has no picture of, or not in one of the four states, stands in ``tests/pictures/
album`` with the reason; here the reasons are held to what is so.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from tests.factories import NOW
from tests.pictures.album import FAMILIES, album
from tests.pictures.album.entries import NO_CASE, NO_OBJECT, Album, NoPicture, Picture
from tests.pictures.worlds import World, make_world
from tests.test_rights_grid import ADDRESSES, ROWS, methods_of

ALBUM: Album = {}
for _family in FAMILIES:
    ALBUM |= album(_family)


def pictures() -> Iterator[tuple[str, Picture]]:
    """Yield every picture of the album with the name of its address."""
    for address, found in ALBUM.items():
        if not isinstance(found, NoPicture):
            yield from ((address, picture) for picture in found)


def test_every_address_that_answers_get_is_in_the_album() -> None:
    asked = {name for name in ADDRESSES if "GET" in methods_of(name)}

    assert set(ALBUM) == asked


def test_every_family_of_pages_is_in_the_album_once() -> None:
    assert sum(len(album(family)) for family in FAMILIES) == len(ALBUM)
    assert all(found for found in ALBUM.values())


def test_no_two_pictures_have_one_name() -> None:
    names = [(address, picture.label) for address, picture in pictures()]

    assert len(names) == len(set(names))


@pytest.mark.django_db
def test_an_address_without_a_picture_shows_no_page() -> None:
    with time_machine.travel(NOW, tick=False):
        world = make_world("data")
        shown = [
            f"{who} sees a page at {name}"
            for name, found in ALBUM.items()
            if isinstance(found, NoPicture)
            for who in ("noor", "mara", "pavo", "lind")
            if _shows_a_page(world, name, who)
        ]

    assert shown == []


def _shows_a_page(world: World, name: str, who: str) -> bool:
    client = Client()
    user = world.people[who].user
    assert user is not None
    client.force_login(user)
    parts = {part: world.objects[what] for part, what in ROWS[name][0].names.items()}
    answer: Any = client.get(reverse(f"cases:{name}", kwargs=parts))
    if answer.streaming:
        b"".join(answer.streaming_content)  # or its file stays open
    return answer.status_code == 200 and answer["Content-Type"].startswith("text/html")


@pytest.mark.django_db
@pytest.mark.parametrize("kind", ["empty", "fresh"])
def test_a_page_without_an_empty_state_has_nothing_to_be_opened_for(kind: str) -> None:
    with time_machine.travel(NOW, tick=False):
        world = make_world(kind)

    wrong = []
    for address, picture in pictures():
        there = set(picture.names.values()) <= set(world.objects)
        if (picture.who == "pavo") != (kind == "fresh"):
            continue
        if picture.empty in {NO_CASE, NO_OBJECT} and picture.names and there:
            wrong.append(f"{address} {picture.label} could be opened in an empty lab")
        if picture.empty == "" and not there:
            wrong.append(f"{address} {picture.label} cannot be opened in an empty lab")

    assert wrong == []
