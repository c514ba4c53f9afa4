"""The reasons of a plan as sentences."""

from __future__ import annotations

from collections.abc import Callable

from cases.domain.planning.why import Link, Wait, WaitKind
from cases.domain.words import N_, ngettext
from cases.domain.words import gettext as _

Name = Callable[[str], str]
"""Gives a person, stage, case, bath, station or thing of the problem the name people know."""

SENTENCES: dict[WaitKind, str] = {
    "stage": N_("%(time)s until “%(other)s” is done"),
    "answer": N_("%(time)s until the answer to “%(other)s” is here"),
    "sign": N_("%(time)s until %(by)s has countersigned “%(other)s”"),
    "setting": N_("%(time)s setting or cooling after “%(other)s”"),
    "release": N_("%(time)s until the case is here"),
    "hold": N_("%(time)s until it may begin"),
    "rest": N_("%(time)s setting or cooling"),
    "practice": N_("%(time)s until the practice has answered, as far as is known"),
    "supplier": N_("%(time)s until the supplier has sent it, as far as is known"),
    "laboratory": N_("%(time)s until somebody here has settled it, as far as is known"),
    "repairer": N_("%(time)s until the equipment is mended, as far as is known"),
    "hands": N_("%(time)s while %(by)s does “%(other)s”"),
    "hours": N_("%(time)s outside the hours of %(by)s, or too short before a break"),
    "station": N_("%(time)s until “%(other)s” leaves a place at %(by)s"),
    "thing": N_("%(time)s until “%(other)s” gives back %(by)s"),
    "load": N_("%(time)s for “%(by)s”, which goes into the same load"),
    "together": N_("%(time)s for “%(by)s”, which is done with it"),
    "bath": N_("%(time)s while %(by)s runs the load of “%(other)s”"),
    "pin": N_("%(time)s because it is pinned"),
    "follow": N_("%(time)s so that what must follow at once finds room"),
    "order": N_("%(time)s because other work was put first"),
    "pair": N_("%(time)s for %(by)s, which leaves with it"),
    "van": N_("%(time)s until the next van"),
}
"""What is said of a wait, as a part of a sentence."""


def same(key: str) -> str:
    """Name everything by its key."""
    return key


def span(minutes: int) -> str:
    """Return a time of the clock in words: minutes, or hours and minutes, or days and hours."""
    if minutes < 60:
        return ngettext("%(count)s minute", "%(count)s minutes", minutes) % {"count": minutes}
    hours, rest = divmod(minutes, 60)
    if hours < 24:
        if not rest:
            return ngettext("%(count)s hour", "%(count)s hours", hours) % {"count": hours}
        return _("%(hours)s h %(minutes)s min") % {"hours": hours, "minutes": rest}
    days, hours = divmod(hours, 24)
    if not hours:
        return ngettext("%(count)s day", "%(count)s days", days) % {"count": days}
    return _("%(days)s d %(hours)s h") % {"days": days, "hours": hours}


def say(wait: Wait, name: Name = same) -> str:
    """Return a wait in words, as a part of a sentence that begins with its time."""
    return _(SENTENCES[wait.kind]) % {
        "time": span(wait.minutes),
        "other": name(wait.other) if wait.other else "",
        "by": name(wait.by) if wait.by else _("nobody"),
    }


def say_link(link: Link, name: Name = same) -> str:
    """Return a link of a chain as a sentence: what waits, how long, and for what."""
    return _("%(of)s waits: %(wait)s.") % {"of": name(link.of), "wait": say(link.wait, name)}


def say_stage(stage: str, waits: tuple[Wait, ...], name: Name = same) -> str:
    """Return all that a stage waits for as one sentence."""
    if not waits:
        return _("%(of)s waits for nothing.") % {"of": name(stage)}
    return _("%(of)s waits: %(wait)s.") % {
        "of": name(stage),
        "wait": "; ".join(say(wait, name) for wait in waits),
    }
