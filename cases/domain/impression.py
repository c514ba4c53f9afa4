"""The pour clock: how long an impression keeps its shape, counted from when it was taken.

The limit of the very product, printed by its maker, beats every number here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from cases.domain.words import N_, ngettext
from cases.domain.words import gettext as _


@dataclass(frozen=True)
class Material:
    """An impression material and its default pour limits, in minutes from *taken*.

    ``limit_minutes`` is when it should be poured, ``outer_minutes`` after which the
    impression is not trusted. None: no number without the maker's, enter it.
    """

    key: str
    words: str
    limit_minutes: int | None
    outer_minutes: int | None
    source: str


MATERIALS: tuple[Material, ...] = (
    Material(
        "alginate",
        N_("Alginate"),
        15,
        30,
        "Pour within 10-15 min, outer limit 30 min sealed and damp: Phillips' Science of Dental "
        "Materials, 12th ed. 2013, from memory; teaching pages seen agree",
    ),
    Material(
        "long-alginate",
        N_("Long-storage alginate"),
        None,
        None,
        "Differs by brand, from one hour to several days (Walker 2010, PMC8929483, abstract "
        "read): the maker's limit must be entered",
    ),
    Material(
        "addition-silicone",
        N_("Silicone, addition-cured"),
        7 * 24 * 60,
        None,
        "One week or more: Phillips, from memory; the maker's limit beats it",
    ),
    Material(
        "condensation-silicone",
        N_("Silicone, condensation-cured"),
        60,
        None,
        "Shrinks as alcohol leaves it, pour within the hour: Phillips, from memory; the maker's "
        "limit beats it",
    ),
    Material(
        "polyether",
        N_("Polyether"),
        7 * 24 * 60,
        None,
        "One week if kept dry: Phillips, from memory; the maker's limit beats it",
    ),
    Material("other", N_("Another material"), None, None, "The maker's limit must be entered"),
)

ALGINATES: frozenset[str] = frozenset({"alginate", "long-alginate"})

BY_KEY: dict[str, Material] = {material.key: material for material in MATERIALS}

PourStatus = Literal["left", "overdue", "too-old", "unknown", "poured"]


@dataclass(frozen=True)
class PourState:
    """Where the pour clock stands.

    Attributes
    ----------
    status : PourStatus
        ``left`` before the limit, ``overdue`` after it, ``too-old`` after the outer limit,
        ``unknown`` when *taken* or the limit is missing, ``poured`` once poured.
    minutes : int | None
        Whole minutes left (``left``), over the limit (``overdue``, ``too-old``), or from
        taken to poured (``poured``); None when unknown.
    sentence : str
        The fact and the next step.
    """

    status: PourStatus
    minutes: int | None
    sentence: str


def material(key: str) -> Material:
    """Return the material with this key.

    Raises
    ------
    ValueError
        When there is no such material.
    """
    if key not in BY_KEY:
        raise ValueError(f"“{key}” is not an impression material. Choose one of the list.")
    return BY_KEY[key]


def pour_limit_minutes(key: str, maker_minutes: int | None = None) -> int | None:
    """Return the pour limit in minutes: the maker's when entered, else the default, else None."""
    return maker_minutes if maker_minutes is not None else material(key).limit_minutes


def pour_deadline(limit_minutes: int | None, taken_at: datetime | None) -> datetime | None:
    """Return the instant by which to pour, or None when either part is not known."""
    if limit_minutes is None or taken_at is None:
        return None
    return taken_at + timedelta(minutes=limit_minutes)


def pour_state(
    key: str,
    *,
    taken_at: datetime | None,
    now: datetime,
    maker_minutes: int | None = None,
    poured_at: datetime | None = None,
) -> PourState:
    """Say how the pour clock of one impression stands.

    Parameters
    ----------
    key : str
        Material key.
    taken_at, poured_at : datetime | None
        Aware instants; None when not known or not yet poured.
    now : datetime
    maker_minutes : int | None
        The product's own limit in minutes. Where it differs from the default it replaces the
        outer limit as well: nobody knows how far a product may go over its maker's number.
    """
    limit = pour_limit_minutes(key, maker_minutes)
    if poured_at is not None:
        return _poured(limit, taken_at, poured_at)
    if taken_at is None:
        return PourState(
            "unknown",
            None,
            _("When the impression was taken is not known. Pour at once and ask the practice."),
        )
    if limit is None:
        return PourState(
            "unknown",
            None,
            _(
                "The maker's pour limit for this material is not entered. Enter it from the "
                "packet, "
                "or pour at once."
            ),
        )
    left = taken_at + timedelta(minutes=limit) - now
    if left >= timedelta(0):
        whole = int(left.total_seconds() // 60)
        return PourState(
            "left", whole, _("%(span)s left to pour this impression.") % {"span": _span(whole)}
        )
    default = material(key)
    outer = default.outer_minutes if limit == default.limit_minutes else None
    return _over(limit, outer, -left)


def _over(limit: int, outer: int | None, over: timedelta) -> PourState:
    """Say that the limit has passed, and whether the outer limit has passed too."""
    minutes = int(over.total_seconds() // 60)
    fact = _("The pour limit of %(limit)s passed %(span)s ago.") % {
        "limit": _span(limit),
        "span": _span(minutes),
    }
    if outer is not None and over <= timedelta(minutes=outer - limit):
        return PourState(
            "overdue", minutes, _("%(fact)s Pour now and judge the cast.") % {"fact": fact}
        )
    return PourState(
        "too-old",
        minutes,
        _("%(fact)s It is too old to trust. Ask for a new impression, or go on by concession.")
        % {"fact": fact},
    )


def _poured(limit: int | None, taken_at: datetime | None, poured_at: datetime) -> PourState:
    if taken_at is None:
        return PourState("poured", None, _("Poured. When it was taken is not known."))
    minutes = int((poured_at - taken_at).total_seconds() // 60)
    if limit is not None and poured_at > taken_at + timedelta(minutes=limit):
        sentence = _("Poured %(span)s after it was taken, over the limit of %(limit)s.") % {
            "span": _span(minutes),
            "limit": _span(limit),
        }
    else:
        sentence = _("Poured %(span)s after it was taken.") % {"span": _span(minutes)}
    return PourState("poured", minutes, sentence)


def _span(minutes: int) -> str:
    """Write a span as people say it: "1 minute", "2 h 5 min", "3 days 4 h"."""
    if minutes < 60:
        said = ngettext("%(minutes)d minute", "%(minutes)d minutes", minutes)
        return said % {"minutes": minutes}
    hours, rest = divmod(minutes, 60)
    if hours < 24:
        return (
            _("%(hours)d h %(rest)d min") % {"hours": hours, "rest": rest}
            if rest
            else _("%(hours)d h") % {"hours": hours}
        )
    days, hours = divmod(hours, 24)
    whole = ngettext("%(days)d day", "%(days)d days", days) % {"days": days}
    return _("%(days)s %(hours)d h") % {"days": whole, "hours": hours} if hours else whole
