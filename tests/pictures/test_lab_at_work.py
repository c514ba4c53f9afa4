"""Pictures of a lab at work: every page as it is, and every form after bad input.

They are kept in ``var/pictures`` (``LABFLOW_PICTURES`` names another folder). What is photographed
stands in ``album/``; ``tests/test_album.py`` holds that nothing is left out. With two workers this
file goes to one and ``test_other_labs.py`` to the other, so that each lab is made once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from tests.pictures.album import FAMILIES
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
@pytest.mark.parametrize("state", ["data", "error"])
def test_pages(camera: Camera, house: House, state: str, family: str) -> None:
    photograph(camera, house, state, family)

    assert camera.faults == []
