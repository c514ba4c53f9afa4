"""Which entries an order must have: one profile per laboratory, by the authority it answers to.

A profile is a set of required entries and the years an order is kept. The work itself asks for
some entries everywhere (`TRADE_FIELDS`); an authority adds its own. The patient's code, the
practice and the laboratory's own name and address are always there and so are not listed.

Not legal advice: ask the authority. The texts of the US states were read in mirrors of the
statutes, not in the official editions; the EU list is from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from cases.domain.words import N_

# What the bench cannot begin without: common practice, no published source.
TRADE_FIELDS: frozenset[str] = frozenset(
    {
        "working",
        "piece",
        "task",
        "remake_start",
        "taken",
        "disinfection",
        "replaces",
        "extractions",
        "shade",
        "mould",
        "bite",
        "borders",
        "polish",
        "day",
    }
)

# What laws ask for on top.
_US_SIX = frozenset({"ordered_on", "description", "materials", "signed", "licence_given"})


LONGEST_US_YEARS = 4  # years; Florida 64B5-17.006, read
EU_YEARS = 10  # years; Regulation (EU) 2017/745 Annex XIII section 4, read


@dataclass(frozen=True)
class RequiredProfile:
    """The entries an order must have for one authority, and how long orders are kept.

    Attributes
    ----------
    key, authority : str
    fields : frozenset[str]
        Names of rules in `order_rules.RULES`.
    keep_years : int
        Years to keep the order.
    source : str
        Where the set comes from.
    """

    key: str
    authority: str
    fields: frozenset[str]
    keep_years: int
    source: str


def _profile(
    key: str, authority: str, fields: frozenset[str], keep_years: int, source: str
) -> RequiredProfile:
    return RequiredProfile(key, authority, TRADE_FIELDS | fields, keep_years, source)


_PROFILES = (
    _profile(
        "longest",
        N_("The longest list (when you do not know)"),
        _US_SIX | {"dentist_named"},
        EU_YEARS,
        "Every entry any of the texts below asks for, kept for the longest time: judgement",
    ),
    _profile(
        "eu",
        N_("European Union"),
        frozenset({"description", "dentist_named", "signed"}),
        EU_YEARS,
        "Regulation (EU) 2017/745 Article 2(3) and Annex XIII section 1: entries from memory; "
        "10 years read",
    ),
    _profile("us-alabama", N_("Alabama"), _US_SIX, 2, "Alabama 34-9-21, read"),
    _profile(
        "us-florida", N_("Florida"), _US_SIX | {"dentist_named"}, 4, "Florida 64B5-17.006, read"
    ),
    _profile("us-maine", N_("Maine"), _US_SIX, 2, "Maine 32 §1090, read"),
    _profile(
        "us-maryland",
        N_("Maryland"),
        _US_SIX,
        LONGEST_US_YEARS,
        "Maryland HO 4-403, read; no time to keep seen, the longest US one stands in",
    ),
    _profile("us-montana", N_("Montana"), _US_SIX, 2, "Montana 37-4-501, read"),
    _profile("us-north-carolina", N_("North Carolina"), _US_SIX, 2, "North Carolina 90-29.2, read"),
    _profile(
        "us-oklahoma",
        N_("Oklahoma"),
        _US_SIX,
        3,
        "Oklahoma 59-328.36a, read; the board's own form was not seen, the six usual entries "
        "stand in",
    ),
    _profile(
        "us-west-virginia",
        N_("West Virginia"),
        (_US_SIX - {"licence_given"}) | {"dentist_named"},
        2,
        "West Virginia 30-4B-2, read",
    ),
)

REQUIRED_PROFILES: dict[str, RequiredProfile] = {profile.key: profile for profile in _PROFILES}

DEFAULT_PROFILE = REQUIRED_PROFILES["longest"]


def required_profile(key: str) -> RequiredProfile:
    """Return the profile with this key.

    Raises
    ------
    ValueError
        When there is none.
    """
    if key not in REQUIRED_PROFILES:
        raise ValueError(f"There is no list of required entries “{key}”. Choose one of the lists.")
    return REQUIRED_PROFILES[key]
