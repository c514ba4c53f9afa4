"""How hard a clasp holds when it is pulled off: two models, shown as a band.

The arm is relaxed when seated. Its spring grows as the tip climbs, while the slope it climbs
shrinks to nothing at the survey line. Taking the undercut to grow as the square of the depth below
that line gives the profile; taking full force on the full slope gives the wedge, which is the most
it could be. Judgement; the arithmetic is checked in the tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import radians, tan
from typing import Final

from cases.domain.quantity import above_zero, zero_or_more
from cases.domain.words import gettext as _

# Friction of wire on a wet tooth, and the slope of the tooth where the tip sits. judgement; an
# undercut of 0.25 mm then lies 1.4 mm below the survey line, which is what one meets.
FRICTION: Final = 0.2
SLOPE_DEG: Final = 20.0
_HALVINGS: Final = 50


@dataclass(frozen=True, slots=True)
class Withdrawal:
    """The greatest pull as a share of the tip's full force: the likely one, and the most."""

    profile: float
    wedge: float


def _slope(slope_deg: float) -> float:
    slope = above_zero(_("The slope of the tooth"), slope_deg)
    if slope >= 90:
        raise ValueError(
            _("A slope of %(degrees)s° is no undercut: give less than 90.")
            % {"degrees": f"{slope:g}"}
        )
    return tan(radians(slope))


def withdrawal(*, slope_deg: float = SLOPE_DEG, friction: float = FRICTION) -> Withdrawal:
    """Return the greatest pull on the way off, as shares of the force at full undercut.

    The profile is the greatest (1 − x²)(µ + x·t)/(1 − µ·x·t), with t = tan α, for x from 0 at the
    survey line to 1 at the seated tip. Its derivative vanishes where
    2µt²x³ − t(3 − µ²)x² − 2µx + t(1 + µ²) = 0, which has one root between 0 and 1: the cubic is
    t(1 + µ²) at 0 and −2(1 − µt)(t + µ) at 1.

    Parameters
    ----------
    slope_deg
        Slope of the tooth at the seated tip against the path, in degrees.
    friction
        Coefficient of friction of wire on tooth.

    Raises
    ------
    ValueError
        The slope is not between 0 and 90°, the friction negative, or both together so great that
        nothing would come off.
    """
    t = _slope(slope_deg)
    mu = zero_or_more(_("The friction"), friction)
    if mu * t >= 1:
        raise ValueError(
            _(
                "With a slope of %(degrees)s° and a friction of %(friction)s the clasp would lock "
                "and not come off: give less."
            )
            % {"degrees": f"{slope_deg:g}", "friction": f"{mu:g}"}
        )
    low, high = 0.0, 1.0
    for _step in range(_HALVINGS):
        x = (low + high) / 2
        if 2 * mu * t**2 * x**3 - t * (3 - mu**2) * x**2 - 2 * mu * x + t * (1 + mu**2) > 0:
            low = x
        else:
            high = x
    profile = (1 - low**2) * (mu + low * t) / (1 - mu * low * t)
    return Withdrawal(profile, (mu + t) / (1 - mu * t))


def tip_depth_mm(undercut_mm: float, slope_deg: float = SLOPE_DEG) -> float:
    """Return how far below the survey line the tip sits, in mm: 2u / tan α on such a profile.

    Raises
    ------
    ValueError
        The undercut is negative, or the slope is not between 0 and 90°.
    """
    return 2 * zero_or_more(_("The undercut"), undercut_mm) / _slope(slope_deg)
