"""What is in the flasks of a load beside the thickness of the resin, for the heat estimate."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

from cases.domain.cure.overheating import USUAL, Filling
from cases.models import CheckItem, Load, Resin

MIX_CHECK: Final = 40
RatioFrom = Literal["mixed", "maker", "usual"]


def filling_of(
    load: Load, cases: list[int], *, usual: Filling = USUAL
) -> tuple[Filling, RatioFrom]:
    """Return what is known of the filling of some cases' flasks, and where the ratio is from.

    The wettest mix decides, which is the hottest. A flask of which nobody entered the mix counts
    as mixed in the middle of what the maker of its resin states, or as usual (one query).

    Parameters
    ----------
    usual
        What this lab takes where nobody said; its gypsum always.
    """
    items = CheckItem.objects.filter(case__in=cases, number=MIX_CHECK).exclude(state="dropped")
    mixed = {}
    for item in items.order_by("pk"):
        told = item.values.get("values") or {}
        powder, liquid = told.get("powder") or 0, told.get("liquid") or 0
        if powder > 0 and liquid > 0:
            mixed[item.case_id] = powder / liquid
    resin = load.program.resin
    stated = _stated(resin)
    ratios: list[tuple[float, RatioFrom]] = [(ratio, "mixed") for ratio in mixed.values()]
    if len(mixed) < len(cases):
        ratios.append((stated, "maker") if stated else (usual.powder_liquid_g_ml, "usual"))
    ratio, source = min(ratios)
    peroxide = resin.bpo_percent or usual.bpo_percent
    return replace(usual, powder_liquid_g_ml=round(ratio, 3), bpo_percent=peroxide), source


def _stated(resin: Resin) -> float | None:
    known = [ratio for ratio in (resin.ratio_low, resin.ratio_high) if ratio]
    return sum(known) / len(known) if known else None
