"""A number that a laboratory may set: its usual value, its unit and its bounds."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limit:
    """A number that something is judged by; a lab may set it between ``low`` and ``high``."""

    name: str
    value: float
    unit: str
    words: str
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= self.value <= self.high:
            raise ValueError(f"The limit {self.name} lies outside its own bounds.")

    @property
    def said_unit(self) -> str:
        """The unit as it follows the number: " mm", "°", or nothing."""
        return self.unit if self.unit in ("", "°") else f" {self.unit}"
