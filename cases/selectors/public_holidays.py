"""Public holidays of a country or region, from the ``holidays`` package (no network)."""

from __future__ import annotations

import re
from datetime import date
from functools import lru_cache

import holidays
from holidays.registry import COUNTRIES


@lru_cache(maxsize=1)
def countries() -> tuple[tuple[str, str], ...]:
    """Return (two-letter code, English name) of the countries known, by name."""
    named = [
        (names[1], re.sub(r"(?<=[a-z])(?=[A-Z])", " ", names[0])) for names in COUNTRIES.values()
    ]
    return tuple(sorted(named, key=lambda item: item[1]))


def regions(country: str) -> tuple[tuple[str, str], ...]:
    """Return (code, name) of the regions of a country, by name; empty where they do not differ."""
    known = holidays.country_holidays(country)
    names: dict[str, str] = {}
    for name, code in known.subdivisions_aliases.items():
        # A region may have several names, some of them only letters: the longest says most.
        names[code] = max(names.get(code, ""), name, key=len)
    named = [(code, names.get(code, code)) for code in known.subdivisions]
    return tuple(sorted(named, key=lambda item: item[1]))


def public_holidays(country: str, region: str, year: int) -> list[tuple[date, str]]:
    """Return the public holidays of a year with their names, in order.

    Raises
    ------
    ValueError
        For a country or region that is not known.
    """
    try:
        found = holidays.country_holidays(country, subdiv=region or None, years=year)
    except NotImplementedError as error:
        raise ValueError(str(error)) from error
    in_english = "en_US" if "en_US" in found.supported_languages else None
    if in_english:
        found = holidays.country_holidays(
            country, subdiv=region or None, years=year, language=in_english
        )
    return sorted(found.items())
