"""Compiled code for the tests that mean it; all others plan in plain Python."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from cases.domain.planning.compiled import engine


@pytest.fixture(scope="module")
def compiled() -> Iterator[None]:
    """Plan in compiled code, as the planner's worker does."""
    engine.use(True)
    assert engine.wait(), engine.why_not()
    yield
    engine.use(False)
