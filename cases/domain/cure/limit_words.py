"""The limits that a verdict or an estimate was made by, in words, from what was kept with it."""

from __future__ import annotations

from collections.abc import Mapping

from cases.domain.words import gettext as _


def of_verdict(kept: Mapping[str, float]) -> str:
    """Say by which limits the record of a bath was judged.

    Parameters
    ----------
    kept
        ``verdict.Limits`` as it was stored with the verdict.
    """
    return _(
        "complete from %(complete)s, doubtful from %(doubtful)s of what a stage needs; at most "
        "%(over)s above the first stage before the resin has set; a probe check counts for "
        "%(days)s days"
    ) % {
        "complete": f"{100 * kept['complete']:g}\u00a0%",
        "doubtful": f"{100 * kept['doubtful']:g}\u00a0%",
        "over": f"{kept['overshoot_k']:g}\u00a0°C",
        "days": f"{kept['probe_check_days']:g}",
    }


def of_estimate(kept: Mapping[str, float]) -> str:
    """Say by which limits a program was estimated.

    Parameters
    ----------
    kept
        ``overheating.Limits`` as it was stored with the estimate.
    """
    return _(
        "The risk counts as some above %(near)s in the core, or with a bath above %(bath)s while "
        "the resin sets, and as high above %(boils)s in the core."
    ) % {
        "near": f"{kept['near_c']:g}\u00a0°C",
        "bath": f"{kept['bath_at_setting_c']:g}\u00a0°C",
        "boils": f"{kept['boils_c']:g}\u00a0°C",
    }
