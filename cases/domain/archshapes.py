"""The shapes an arch is drawn of, in millimetres, each with the role it plays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from cases.domain.archform import Point

Role = Literal[
    "base",
    "bar",
    "crown-present",
    "crown-missing",
    "crown-replaced",
    "fissure",
    "extracted-halo",
    "extracted",
    "rest",
    "clasp",
    "clasp-tip",
    "blocked",
    "bracing",
    "hollow",
    "stop",
    "joint",
    "cover",
    "abutment",
    "relief",
    "changed",
    "changed-dot",
    "number",
    "side-letter",
]


@dataclass(frozen=True, slots=True)
class Outline:
    """A polygon (``closed``) or an open line through ``points``; ``fdi`` where it is a tooth's."""

    role: Role
    points: tuple[Point, ...]
    closed: bool = True
    fdi: int | None = None


@dataclass(frozen=True, slots=True)
class Dot:
    """A filled circle."""

    role: Role
    centre: Point
    radius_mm: float
    fdi: int | None = None


@dataclass(frozen=True, slots=True)
class Label:
    """A short text centred on a point, ``size_mm`` high."""

    role: Role
    centre: Point
    text: str
    size_mm: float
    fdi: int | None = None


Shape = Outline | Dot | Label
