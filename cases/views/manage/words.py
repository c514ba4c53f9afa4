"""What the manager reads: why a case is late, what stands still, what may not rest."""

from __future__ import annotations

from datetime import datetime

from django.utils.formats import date_format
from django.utils.timezone import localtime
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from cases.domain.reasons import HOLD, HOLD_WAITS_FOR, ReasonList
from cases.models import CaseStage, Hold
from cases.selectors.closing import Rest
from cases.selectors.lateness import Outlook
from cases.views.case.where import say_when

THING_WORDS: dict[str, str] = {
    "flask": gettext_noop("Flasks"),
    "articulator": gettext_noop("Articulators"),
    "clamp": gettext_noop("Clamps"),
}


def reason_words(reasons: ReasonList, key: str) -> str:
    """Return the words of a reason; the key itself where the list no longer has it."""
    try:
        return _(reasons.get(key).words)
    except ValueError:
        return key


def waits_for_words(key: str) -> str:
    """Say whom a hold waits for."""
    return _({one.key: one.words for one in HOLD_WAITS_FOR}.get(key, key))


def hold_words(hold: Hold) -> str:
    """Say why a case is on hold."""
    return hold.words or reason_words(HOLD, hold.reason)


def _standing(stage: CaseStage, now: datetime) -> str:
    """Say what a case stands at."""
    parts = {"stage": stage.name, "who": stage.worker.name if stage.worker else _("somebody")}
    if stage.state == "planned" and stage.ready_at:
        if stage.ready_at > now:
            parts["when"] = say_when(stage.ready_at, now)
            return _("It rests until %(when)s, before “%(stage)s”.") % parts
        parts["when"] = say_when(stage.ready_at, now)
        return _("“%(stage)s” could have begun %(when)s; nobody has.") % parts
    words = {
        "running": _("“%(stage)s” is in the hands of %(who)s."),
        "paused": _("“%(stage)s” was put down by %(who)s."),
        "countersign": _("“%(stage)s” by %(who)s waits for a countersign."),
        "away": _("It is at the practice (“%(stage)s”)."),
    }
    return words.get(stage.state, "“%(stage)s”") % parts


def why(outlook: Outlook, now: datetime) -> str:
    """Say what keeps a case: the hold, the practice, a signature, hands, or the work left."""
    if outlook.case.state == "packed":
        return _("It is packed and was not handed to the carrier.")
    whole = [hold for hold in outlook.holds if not hold.stages]
    keys = {key for hold in outlook.holds for key in hold.stages}
    first = whole or [hold for hold in outlook.holds if keys & {s.key for s in outlook.at}]
    if first:
        hold = first[0]
        return _("On hold since %(day)s: %(why)s") % {
            "day": date_format(localtime(hold.opened_at), "l j F"),
            "why": hold_words(hold),
        }
    order = ("away", "countersign", "paused", "planned", "running")
    at = sorted(outlook.at, key=lambda stage: order.index(stage.state))
    return _standing(at[0], now) if at else _("Nothing stands ready to begin.")


def left_words(outlook: Outlook, now: datetime) -> str:
    """Say what is left to do and when it could be ready."""
    if outlook.ready_at is None:
        return ""
    n = round(outlook.minutes_left)
    words = ngettext(
        "%(n)s minute at the bench is left; ready %(when)s at the earliest.",
        "%(n)s minutes at the bench are left; ready %(when)s at the earliest.",
        n,
    )
    return words % {"n": n, "when": say_when(outlook.ready_at, now)}


def verdict_tag(outlook: Outlook, now: datetime) -> tuple[str, str]:
    """Return the shape and the words of the tag of an outlook."""
    leaves = outlook.case.leaves_at
    if outlook.verdict == "late" and leaves is not None:
        days = (localtime(now).date() - localtime(leaves).date()).days
        words = ngettext("%(n)s day late", "%(n)s days late", days) % {"n": days}
        return "late", words if days else _("late today")
    if outlook.verdict == "will-be-late":
        return "late", _("will be late")
    return "running", _("close")


def rest_words(rest: Rest, now: datetime) -> str:
    """Say why a case may not be left overnight, and what to do."""
    stage = rest.stage
    parts = {"stage": _(stage.name), "until": say_when(rest.until, now) if rest.until else ""}
    if rest.why == "in-hand":
        parts["who"] = stage.worker.name if stage.worker else _("somebody")
    words = stage.spec.get("night_words")
    night = _(words) if words else ""
    if rest.why == "no":
        said = _("It may not rest after “%(stage)s”.") % parts
    elif rest.why == "limit" and rest.until:
        said = _("After “%(stage)s” it may rest only until %(until)s.") % parts
    elif rest.why == "limit":
        said = _("After “%(stage)s” it may rest only under a condition.") % parts
    elif rest.why == "in-hand":
        said = _("“%(stage)s” is begun, by %(who)s, and may not be left so.") % parts
    elif rest.until and rest.until <= now:
        return _("“%(stage)s” should have begun: %(until)s.") % parts
    else:
        return _("“%(stage)s” must begin before the laboratory opens again: %(until)s.") % parts
    return f"{said} {night}".strip()
