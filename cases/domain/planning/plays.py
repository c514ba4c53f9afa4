"""Plans that are played again and again by a search, compiled or in plain Python.

Both give the same: a search goes the same way with either, only not as fast.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from cases.domain.planning.compiled import engine
from cases.domain.planning.dispatch import Tried
from cases.domain.planning.floor import Floor
from cases.domain.planning.replay import replay_plainly
from cases.domain.planning.score import Worth, leaving, to_plan, worth
from cases.domain.planning.shop import Shop
from cases.domain.planning.standing import Standing


class Play(Protocol):
    """A plan that was played."""

    @property
    def worth(self) -> Worth:
        """What it is worth."""

    def leaves(self) -> Sequence[int]:
        """Return when each case leaves, -1 for those that do not."""

    def last(self) -> int:
        """Return when its last stage ends."""

    def stood(self) -> Any:
        """Return it as what is played again, by the same ``Plays``."""

    def floor(self) -> Floor:
        """Return it with all its places."""


class Plays(Protocol):
    """Plays the plans of one shop. What is played, a *standing*, is for it alone to know."""

    def known(self, tried: Tried) -> Play:
        """Return a plan that was made elsewhere."""

    def play(self, standing: Any) -> Play:
        """Play the lab again, everything as soon as it goes in the order of a standing."""

    def moved(self, standing: Any, starts: Mapping[int, int]) -> Any:
        """Return a standing with some stages taken up at other minutes."""

    def starts(self, standing: Any) -> Sequence[int | None]:
        """Return when each stage begins, None where it has no place."""


class Known:
    """A plan by its floor."""

    def __init__(self, shop: Shop, floor: Floor, worth_of: Worth | None = None) -> None:
        self.shop, self._floor = shop, floor
        self.worth = worth(shop, floor) if worth_of is None else worth_of

    def leaves(self) -> Sequence[int]:
        """Return when each case leaves, -1 for those that do not."""
        return leaving(self.shop, self._floor)

    def last(self) -> int:
        """Return when its last stage ends."""
        return max(self._floor.end, default=1)

    def stood(self) -> Any:
        """Return it as what is played again."""
        return Standing(self.shop, to_plan(self.shop, self._floor).planned)

    def floor(self) -> Floor:
        """Return it with all its places."""
        return self._floor


class Plain:
    """Plays in plain Python."""

    def __init__(self, shop: Shop) -> None:
        self.shop = shop

    def known(self, tried: Tried) -> Play:
        """Return a plan that was made elsewhere."""
        return Known(self.shop, tried.floor, tried.worth)

    def play(self, standing: Standing) -> Play:
        """Play the lab again, everything as soon as it goes in the order of a standing."""
        return Known(self.shop, replay_plainly(standing, forward_from=0))

    def moved(self, standing: Standing, starts: Mapping[int, int]) -> Standing:
        """Return a standing with some stages taken up at other minutes."""
        return standing.moved(starts)

    def starts(self, standing: Standing) -> Sequence[int | None]:
        """Return when each stage begins, None where it has no place."""
        return standing.start


def plays_of(shop: Shop) -> Plays:
    """Return who plays the plans of a shop: compiled code where that is ready."""
    if engine.ready():
        # Numba is imported by those who are ready, not by every page.
        from cases.domain.planning.compiled.replaying import Swift

        return Swift(shop)
    return Plain(shop)
