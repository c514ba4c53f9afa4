"""What the house promises each test: a cache of its own."""

from __future__ import annotations

import pytest
from django.core.cache import cache


@pytest.mark.parametrize("turn", ["one", "next"])
def test_no_test_finds_what_another_counted(turn: str) -> None:
    assert cache.get_or_set("counted-by", turn, 60) == turn
