"""What a clasp will do, before it is bent: force, stress, hold, each as a band.

From the wire, the ranges of its alloy, the undercut and the free arm. Every figure is indicative: a
straight beam stands for the arm. It warns and approves nothing; the technician decides.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import ceil, sqrt
from typing import Final, Literal

from cases.domain import clasp
from cases.domain.alloys import Alloy
from cases.domain.design_parts import Section
from cases.domain.quantity import Band
from cases.domain.wire import Wire
from cases.domain.withdrawal import FRICTION, SLOPE_DEG, tip_depth_mm, withdrawal
from cases.domain.words import N_
from cases.domain.words import gettext as _

Stays = Literal["quiet", "near", "may", "will"]
Holds = Literal["too-weak", "rather-weak", "fits", "rather-stiff", "too-stiff"]

# Share of the lowest yield up to which nothing is said. judgement; it is a margin in itself, so the
# middle of the stress is held against it, while the highest stress is held against the yield.
QUIET_SHARE: Final = 0.67
# Pull of one clasp, in N. judgement, scaled from the 5 N a retainer that studies aim at
TOO_WEAK_N: Final = 0.7
FITS_N: Final = Band(1.0, 5.0)
TOO_STIFF_N: Final = 7.0
# Pull of the whole piece with all its clasps, bases not counted, in N. Studies of frameworks with
# free ends give 300 to 750 g (Frank & Nicholls 1981 and later, from memory): orientation only; the
# limits themselves are judgement.
WHOLE_PIECE_N: Final = Band(3.0, 10.0)


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a forecast is judged by: the usual limits of CLP-2 to CLP-4, or those of a lab."""

    quiet_share: float = QUIET_SHARE
    weak_n: float = TOO_WEAK_N
    stiff_n: float = TOO_STIFF_N
    whole_n: Band = WHOLE_PIECE_N


USUAL: Final = Wanted()

INDICATIVE: Final = N_("Indicative: reckoned as a straight beam. A bent arm is partly stiffer.")

PROVISIONAL: Final = N_(
    "Provisional: nobody has measured the free arm, so the usual one of %(arm)s mm was taken."
)
WHOLE_PROVISIONAL: Final = N_("Provisional: not every free arm is measured.")

_HOLDS_WORDS: Final[dict[Holds, str]] = {
    "too-weak": N_(
        "Too weak: about %(pull)s N to pull it off. Take a thicker wire, a shorter arm or a deeper "
        "undercut."
    ),
    "rather-weak": N_("Rather weak: about %(pull)s N to pull it off."),
    "fits": N_("The hold fits: about %(pull)s N to pull it off."),
    "rather-stiff": N_("Rather stiff: about %(pull)s N to pull it off."),
    "too-stiff": N_(
        "Too stiff: about %(pull)s N to pull it off. Take a thinner wire, a longer arm or a "
        "shallower undercut."
    ),
}
_STAYS_WORDS: Final[dict[Stays, str]] = {
    "quiet": N_("The wire springs back: at most %(high)s MPa, and it yields at %(least)s or more."),
    "near": N_(
        "Near the yield of the wire: up to %(high)s MPa, and it yields at %(least)s or more."
    ),
    "may": N_(
        "May stay bent: %(low)s to %(high)s MPa, and it yields at %(least)s to %(most)s. An arm of "
        "%(arm)s mm would spring back; or take a thinner wire or a shallower undercut."
    ),
    "will": N_(
        "Will stay bent at the first insertion: at least %(low)s MPa, and it yields at %(most)s at "
        "most. An arm of %(arm)s mm would spring back; or take a thinner wire or a shallower "
        "undercut."
    ),
}


@dataclass(frozen=True, slots=True)
class ClaspForecast:
    """One clasp, reckoned.

    Attributes
    ----------
    wire, section, alloy, undercut_mm, arm_mm, slope_deg, friction
        What it was reckoned from; ``wire`` as it leaves the acrylic.
    tip_share
        Thickness of the tip as a share of that; 1 for an arm that is not tapered.
    force_n, stress_mpa
        Of the tip at full undercut, and where the arm is stressed most (where it leaves the
        acrylic, unless it is tapered far): lowest to highest modulus.
    reserve
        Share of the yield that is left: highest stress against the lowest yield, to lowest stress
        against the highest. Negative: past it.
    shortest_arm_mm
        The shortest arm that springs back, at best and for certain.
    withdrawal_n
        To pull it off: from the profile with the lowest force to the wedge with the highest.
    tip_depth_mm
        How far below the survey line the tip sits.
    stays
        Whether the wire stays bent at the first insertion: ``quiet`` (the middle of the stress
        at most two thirds of the lowest yield), ``near`` it, ``may`` stay bent, ``will`` in any
        case.
    holds
        How the middle of ``withdrawal_n`` compares with what is wanted of one clasp.
    provisional
        The free arm is the usual one of such a tooth, for nobody has measured it.
    """

    wire: Wire
    section: Section
    alloy: Alloy
    undercut_mm: float
    arm_mm: float
    slope_deg: float
    friction: float
    force_n: Band
    stress_mpa: Band
    reserve: Band
    shortest_arm_mm: Band
    withdrawal_n: Band
    tip_depth_mm: float
    stays: Stays
    holds: Holds
    provisional: bool = False
    tip_share: float = 1.0

    @property
    def taper(self) -> clasp.Taper:
        """What the taper does against an arm of one thickness."""
        return clasp.taper(self.tip_share)

    @property
    def note(self) -> str:
        """What has to stand beside every figure."""
        if not self.provisional:
            return _(INDICATIVE)
        return f"{_(PROVISIONAL) % {'arm': f'{self.arm_mm:g}'}} {_(INDICATIVE)}"

    @property
    def stays_words(self) -> str:
        """Whether it stays bent, in a sentence with the fact and the next step."""
        return _(_STAYS_WORDS[self.stays]) % {
            "low": f"{self.stress_mpa.low:.0f}",
            "high": f"{self.stress_mpa.high:.0f}",
            "least": f"{self.alloy.yield_mpa.low:.0f}",
            "most": f"{self.alloy.yield_mpa.high:.0f}",
            # Rounded up: the arm named has to be long enough.
            "arm": f"{ceil(self.shortest_arm_mm.high * 10) / 10:.1f}",
        }

    @property
    def holds_words(self) -> str:
        """How it holds, in a sentence with the fact and the next step."""
        band = self.withdrawal_n
        return _(_HOLDS_WORDS[self.holds]) % {"pull": say_band(band)}


def say_band(band: Band, decimals: int = 1) -> str:
    """Say a band in digits, like "1.6 to 3.3"."""
    return _("%(low)s to %(high)s") % {
        "low": f"{band.low:.{decimals}f}",
        "high": f"{band.high:.{decimals}f}",
    }


def _stays(stress: Band, strength: Band, share: float = QUIET_SHARE) -> Stays:
    if stress.low > strength.high:
        return "will"
    if stress.high > strength.low:
        return "may"
    return "quiet" if stress.middle <= share * strength.low else "near"


def _holds(pull: float, wanted: Wanted = USUAL) -> Holds:
    if pull < wanted.weak_n:
        return "too-weak"
    if pull > wanted.stiff_n:
        return "too-stiff"
    if pull < FITS_N.low:
        return "rather-weak"
    return "fits" if pull <= FITS_N.high else "rather-stiff"


def judged(found: ClaspForecast, wanted: Wanted) -> ClaspForecast:
    """Return a forecast with its two judgements by the limits of a lab."""
    return replace(
        found,
        stays=_stays(found.stress_mpa, found.alloy.yield_mpa, wanted.quiet_share),
        holds=_holds(found.withdrawal_n.middle, wanted),
    )


def _shortest_arm(
    wire: Wire, alloy: Alloy, undercut_mm: float, section: Section, taper: clasp.Taper
) -> Band:
    """From the softest wire of the highest yield to the stiffest of the lowest."""
    modulus, strength = alloy.modulus_gpa, alloy.yield_mpa
    ends = ((modulus.low, strength.high), (modulus.high, strength.low))
    low, high = (
        clasp.shortest_arm_mm(
            diameter_mm=wire.mm,
            undercut_mm=undercut_mm,
            modulus_gpa=modulus_gpa,
            yield_mpa=yield_mpa,
            section=section,
        )
        for modulus_gpa, yield_mpa in ends
    )
    # The stress goes with 1/L², so what the taper takes from it shortens the arm by its root.
    return Band(low, high).times(sqrt(taper.stress))


def forecast(
    *,
    wire: Wire,
    alloy: Alloy,
    undercut_mm: float,
    arm_mm: float,
    section: Section = "round",
    tip_share: float = 1.0,
    slope_deg: float = SLOPE_DEG,
    friction: float = FRICTION,
) -> ClaspForecast:
    """Reckon what a clasp will do.

    Parameters
    ----------
    wire, alloy
        As chosen; ``wire.parse_wire`` and ``wire.ALLOYS``.
    undercut_mm, arm_mm
        The gauge step at the tip, and the free arm along the wire.
    section
        ``"half_round"`` is taken to bend toward or away from its flat.
    tip_share
        Thickness of the tip as a share of the wire's, for a straight taper of a round arm.
    slope_deg, friction
        Of the tooth at the seated tip, and of wire on tooth.

    Raises
    ------
    ValueError
        A number is nonsense, a half-round arm is tapered, or slope and friction would lock the
        clasp.
    """
    if tip_share != 1 and section != "round":
        raise ValueError(_("Only a round arm is reckoned tapered."))
    taper = clasp.taper(tip_share)
    # Force and stress are in proportion to the modulus: reckoned for 1 GPa, then stretched.
    force_n = alloy.modulus_gpa.times(
        clasp.tip_force_n(
            diameter_mm=wire.mm,
            length_mm=arm_mm,
            undercut_mm=undercut_mm,
            modulus_gpa=1.0,
            section=section,
        )
        * taper.force
    )
    stress_mpa = alloy.modulus_gpa.times(
        clasp.bending_stress_mpa(
            diameter_mm=wire.mm,
            length_mm=arm_mm,
            undercut_mm=undercut_mm,
            modulus_gpa=1.0,
            section=section,
        )
        * taper.stress
    )
    strength = alloy.yield_mpa
    shares = withdrawal(slope_deg=slope_deg, friction=friction)
    pull = Band(force_n.low * shares.profile, force_n.high * shares.wedge)
    return ClaspForecast(
        wire=wire,
        section=section,
        alloy=alloy,
        undercut_mm=undercut_mm,
        arm_mm=arm_mm,
        slope_deg=slope_deg,
        friction=friction,
        force_n=force_n,
        stress_mpa=stress_mpa,
        reserve=Band(1 - stress_mpa.high / strength.low, 1 - stress_mpa.low / strength.high),
        shortest_arm_mm=_shortest_arm(wire, alloy, undercut_mm, section, taper),
        withdrawal_n=pull,
        tip_depth_mm=tip_depth_mm(undercut_mm, slope_deg),
        stays=_stays(stress_mpa, strength),
        holds=_holds(pull.middle),
        tip_share=tip_share,
    )


@dataclass(frozen=True, slots=True)
class WholePiece:
    """The pull of all clasps together, and how its middle compares with what is wanted."""

    withdrawal_n: Band
    verdict: Literal["too-weak", "fits", "too-stiff"]
    wanted_n: Band = WHOLE_PIECE_N
    provisional: bool = False

    @property
    def words(self) -> str:
        """The comparison in one sentence, and whether it is provisional."""
        return f"{self._compared} {_(WHOLE_PROVISIONAL)}" if self.provisional else self._compared

    @property
    def _compared(self) -> str:
        said = {"pull": say_band(self.withdrawal_n), "wanted": say_band(self.wanted_n, 0)}
        if self.verdict == "too-weak":
            return _("All clasps together hold %(pull)s N: less than the %(wanted)s wanted.") % said
        if self.verdict == "too-stiff":
            return _("All clasps together hold %(pull)s N: more than the %(wanted)s wanted.") % said
        return _("All clasps together hold %(pull)s N; %(wanted)s are wanted.") % said


def whole_piece(forecasts: Iterable[ClaspForecast], wanted: Wanted = USUAL) -> WholePiece | None:
    """Add up the clasps of a piece; None where it has none."""
    every = list(forecasts)
    if not every:
        return None
    pulls = [forecast.withdrawal_n for forecast in every]
    pull = Band(sum(band.low for band in pulls), sum(band.high for band in pulls))
    provisional = any(forecast.provisional for forecast in every)
    if pull.middle < wanted.whole_n.low:
        return WholePiece(pull, "too-weak", wanted.whole_n, provisional)
    fits = pull.middle <= wanted.whole_n.high
    return WholePiece(pull, "fits" if fits else "too-stiff", wanted.whole_n, provisional)
