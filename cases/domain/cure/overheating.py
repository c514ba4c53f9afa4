"""Is a program sound for the thickest resin of a load: low, some or high risk, with its band.

Four scenarios march together: the flask as given, one that takes up heat fast, one that is slow,
and a wet mix. The class is the third lowest of theirs, the band their spread; one number is never
said. No risk of overheating is not freedom from pores: thin specimens put straight into boiling
water were porous in a published study (Nisar 2015) where the estimate finds no boiling monomer.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, floor
from typing import Final, Literal

from cases.domain.cure.heat import MODEL_VERSION, Heat, OutsideRange, run
from cases.domain.cure.heat_constants import value
from cases.domain.cure.heat_range import check_flask, read_program
from cases.domain.quantity import Band
from cases.domain.words import N_
from cases.domain.words import gettext as _

Risk = Literal["low", "some", "high"]
RISKS: Final[tuple[Risk, ...]] = ("low", "some", "high")

ESTIMATE_ONLY: Final = N_(
    "Heating estimate only. It does not show that the resin is safe, strong or free of pores. The "
    "resin maker's instructions take precedence."
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What makes a scenario count, in °C; the assumed ones are settings of the lab.

    Attributes
    ----------
    boils_c
        Live resin above this: high. The boiling point of the monomer at sea level.
    near_c
        Live resin above this: some. Assumed.
    bath_at_setting_c
        A bath hotter than this while the resin sets: some, whatever the thickness. Assumed, because
        the estimate misses the pores of thin specimens that went straight into boiling water.
    """

    boils_c: float = value("mma_boiling_point")
    near_c: float = 95.0
    bath_at_setting_c: float = 85.0


@dataclass(frozen=True, slots=True)
class Filling:
    """What is in a flask beside the thickness of its resin.

    Attributes
    ----------
    gypsum_mm
        Around the resin, to the wall of the flask.
    powder_liquid_g_ml
        As it was mixed.
    bpo_percent
        Peroxide in the powder.
    """

    gypsum_mm: float = value("gypsum_thickness")
    powder_liquid_g_ml: float = value("powder_liquid")
    bpo_percent: float = value("bpo_share")


USUAL: Final = Filling()


@dataclass(frozen=True, slots=True)
class Scenario:
    """How a flask may differ from the one given: multiples, and the dough's W/m/K."""

    name: str
    gypsum: float = 1.0
    film: float = value("film")
    powder_liquid: float = 1.0
    dough_conductivity: float = value("dough_conductivity")


# With the usual flask: 20, 12 and 28 mm of gypsum, and 2.0 g/mL. Assumed.
SCENARIOS: Final = (
    Scenario(N_("as given")),
    Scenario(N_("a flask that heats fast"), gypsum=0.6, film=2000.0),
    Scenario(N_("a flask that heats slowly"), gypsum=1.4, film=250.0),
    Scenario(N_("a wet mix"), powder_liquid=2.0 / 2.3, dough_conductivity=0.17),
)
# The rank of the class among the scenarios, from the lowest. Assumed.
_THIRD: Final = 2


@dataclass(frozen=True, slots=True)
class Overheating:
    """What to expect of a program for one thickness.

    Attributes
    ----------
    risk
        The third lowest of the scenarios.
    scenarios
        What each gave, in the order of ``SCENARIOS``, and ``risks`` its class.
    live_c, over_bath_k, setting_minute
        From the lowest of the scenarios to the highest.
    """

    risk: Risk
    thickness_mm: float
    scenarios: tuple[Heat, ...]
    risks: tuple[Risk, ...]
    live_c: Band
    over_bath_k: Band
    setting_minute: Band
    limits: Limits
    filling: Filling = USUAL
    model_version: str = MODEL_VERSION

    @property
    def note(self) -> str:
        """What has to stand beside every estimate."""
        return _(ESTIMATE_ONLY)

    @property
    def band_words(self) -> str:
        """The band of the core's heat, in a sentence."""
        return _(
            "Estimate for a %(thickness)s mm section: %(low)s to %(high)s °C in the core before it "
            "is hard throughout; it sets fastest about %(first)s to %(last)s min after the flask "
            "goes in."
        ) % {
            "thickness": f"{self.thickness_mm:g}",
            "low": floor(self.live_c.low),
            "high": ceil(self.live_c.high),
            "first": floor(self.setting_minute.low),
            "last": ceil(self.setting_minute.high),
        }

    @property
    def reason(self) -> str:
        """Why the risk is what it is, in one sentence."""
        if self.risk == "high":
            return _("The monomer may boil in the core: it does so at about %(boils)s °C.") % {
                "boils": f"{self.limits.boils_c:g}"
            }
        if self.risk == "low":
            return _("The core is expected to stay below the boiling point of the monomer.")
        if sum(one.live_peak_c > self.limits.near_c for one in self.scenarios) > _THIRD - 1:
            return _(
                "The core comes near the boiling point of the monomer, about %(boils)s °C."
            ) % {"boils": f"{self.limits.boils_c:g}"}
        return _(
            "The bath is hotter than %(limit)s °C while the resin is expected to set; that carries "
            "some risk whatever the thickness."
        ) % {"limit": f"{self.limits.bath_at_setting_c:g}"}


def _class_of(one: Heat, limits: Limits) -> Risk:
    if one.live_peak_c > limits.boils_c:
        return "high"
    hot_bath = (one.bath_at_setting_c or 0.0) > limits.bath_at_setting_c
    return "some" if one.live_peak_c > limits.near_c or hot_bath else "low"


def expect(
    program: Iterable[tuple[float, float]],
    thickness_mm: float,
    *,
    filling: Filling = USUAL,
    limits: Limits | None = None,
) -> Overheating:
    """Return what to expect of a program for the thickest resin of a load.

    Parameters
    ----------
    filling
        What is in the flask; the usual one where nobody said.
    limits
        The lab's; None for the usual ones. The other parameters are those of ``heat.simulate``.

    Raises
    ------
    OutsideRange
        The estimate does not reach so far, or the resin would not set; the sentence says why.
    ValueError
        Something is no number or no program.
    """
    from cases.domain.cure.heat_grid import flask

    ratio, peroxide = filling.powder_liquid_g_ml, filling.bpo_percent
    check_flask(thickness_mm, filling.gypsum_mm, ratio, peroxide)
    points = read_program(program)
    held = limits or Limits()
    found = run(
        [
            flask(
                thickness_mm,
                gypsum_mm=filling.gypsum_mm * scenario.gypsum,
                powder_liquid_g_ml=ratio * scenario.powder_liquid,
                bpo_percent=peroxide,
                dough_conductivity=scenario.dough_conductivity,
                film=scenario.film,
            )
            for scenario in SCENARIOS
        ],
        points,
    )
    setting = [one.setting_minute for one in found if one.setting_minute is not None]
    if len(setting) < len(found):
        raise OutsideRange(
            _(
                "The resin may not set within this program, so there is nothing to estimate: "
                "is a stage missing?"
            )
        )
    risks = tuple(_class_of(one, held) for one in found)
    live = [one.live_peak_c for one in found]
    over = [one.over_bath_k for one in found]
    return Overheating(
        risk=sorted(risks, key=RISKS.index)[_THIRD],
        thickness_mm=float(thickness_mm),
        scenarios=found,
        risks=risks,
        live_c=Band(min(live), max(live)),
        over_bath_k=Band(min(over), max(over)),
        setting_minute=Band(min(setting), max(setting)),
        limits=held,
        filling=filling,
    )
