"""The scene of two practices, and the lab's people signed in at its instant."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client

from tests.factories import NOW, Shop, make_shop
from tests.rights.scene import Scene, make_scene


@pytest.fixture
def shop(db: None) -> Shop:
    return make_shop()


@pytest.fixture
def scene(shop: Shop) -> Scene:
    return make_scene(shop)


@pytest.fixture
def clock() -> Iterator[None]:
    with time_machine.travel(NOW, tick=False):
        yield


def sign_in(shop: Shop, who: str) -> Client:
    """Return the browser of somebody who is signed in."""
    client = Client()
    user = shop.people[who].user
    assert user is not None
    client.force_login(user)
    return client
