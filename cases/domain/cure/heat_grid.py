"""Half of a flask as a row of cells, from the core of the resin to the water of the bath.

Finite volumes: each cell one temperature, the resistances of two half cells in series at each face,
a film to the water at the last. Nothing crosses the middle of the resin. The row of cells is turned
into its own modes, in which conduction alone is exact whatever the step of time.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from cases.domain.cure.heat_constants import value
from cases.domain.cure.heat_kinetics import Dough, mixed

Array = NDArray[np.float64]

_MM: Final = 1e-3
RESIN_CELLS: Final = 15
GYPSUM_CELLS: Final = 20
BRASS_CELLS: Final = 3


@dataclass(frozen=True, slots=True)
class Layer:
    """One material: thickness in mm, conductivity in W/m/K, density in kg/m³, J/kg/K."""

    thickness_mm: float
    cells: int
    conductivity: float
    density: float
    heat_capacity: float


@dataclass(frozen=True, slots=True)
class Slab:
    """Layers from the core outwards, the first of them the dough; no dough: nothing reacts.

    ``film`` is the heat transfer to the water in W/m²/K; 0 insulates.
    """

    layers: tuple[Layer, ...]
    film: float
    dough: Dough | None


def flask(
    thickness_mm: float,
    *,
    gypsum_mm: float = value("gypsum_thickness"),
    powder_liquid_g_ml: float = value("powder_liquid"),
    bpo_percent: float = value("bpo_share"),
    dough_conductivity: float = value("dough_conductivity"),
    film: float = value("film"),
    finer: int = 1,
) -> Slab:
    """Return half a flask: half of ``thickness_mm`` of resin, gypsum, brass, water.

    Parameters
    ----------
    finer
        How many times as many cells as usual, to see what the grid does.
    """
    layers = (
        Layer(
            thickness_mm / 2,
            RESIN_CELLS * finer,
            dough_conductivity,
            value("dough_density"),
            value("dough_heat_capacity"),
        ),
        Layer(
            gypsum_mm,
            GYPSUM_CELLS * finer,
            value("gypsum_conductivity"),
            value("gypsum_density"),
            value("gypsum_heat_capacity"),
        ),
        Layer(
            value("brass_thickness"),
            BRASS_CELLS * finer,
            value("brass_conductivity"),
            value("brass_density"),
            value("brass_heat_capacity"),
        ),
    )
    return Slab(layers, film, mixed(powder_liquid_g_ml, bpo_percent))


@dataclass(frozen=True, slots=True)
class Modes:
    """A slab in its own modes: T = ``shapes`` · z, z' = ``rates`` · z + ``from_bath`` · T_bath + ….

    Attributes
    ----------
    rates
        Of the modes, zero or negative, per second.
    shapes
        Temperatures of the cells in each mode.
    weights
        Back again: z = ``weights`` · T.
    from_bath
        What a degree of the bath gives each mode in a second.
    capacity
        Of each cell, J/m²/K.
    to_bath
        Conductance from the last cell to the water, W/m²/K.
    """

    rates: Array
    shapes: Array
    weights: Array
    from_bath: Array
    capacity: Array
    to_bath: float


def modes(slab: Slab) -> Modes:
    """Return the modes of a slab."""

    def spread(name: str) -> Array:
        return np.repeat(
            [getattr(layer, name) for layer in slab.layers], [layer.cells for layer in slab.layers]
        )

    width = np.repeat(
        [layer.thickness_mm * _MM / layer.cells for layer in slab.layers],
        [layer.cells for layer in slab.layers],
    )
    half = width / 2 / spread("conductivity")
    capacity = spread("density") * spread("heat_capacity") * width
    between = 1 / (half[:-1] + half[1:])
    to_bath = 1 / (half[-1] + 1 / slab.film) if slab.film else 0.0
    leaving = np.zeros_like(width)
    leaving[:-1] += between
    leaving[1:] += between
    leaving[-1] += to_bath
    flow = np.diag(-leaving) + np.diag(between, 1) + np.diag(between, -1)
    root = np.sqrt(capacity)
    # The same matrix in coordinates in which it is symmetric, so its modes are orthogonal.
    rates, turned = np.linalg.eigh(flow / np.outer(root, root))
    weights = turned.T * root
    return Modes(
        rates=np.minimum(rates, 0.0),
        shapes=turned / root[:, None],
        weights=weights,
        from_bath=weights[:, -1] * to_bath / capacity[-1],
        capacity=capacity,
        to_bath=float(to_bath),
    )
