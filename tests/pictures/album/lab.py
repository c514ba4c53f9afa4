"""The lab's own settings, as the manager sees them."""

from __future__ import annotations

from tests.pictures.album.entries import (
    EMPTY_FORM,
    NO_OBJECT,
    Album,
    Picture,
    Sent,
    page,
)


def entry(error: Sent | str = EMPTY_FORM, **names: str) -> Picture:
    """Return a picture of a page about one entry, sent empty unless said otherwise."""
    return page("pavo", error=error, empty=NO_OBJECT, **names)


ADDING = Sent(form="form.settings-form[method=post]")
PUT_AWAY = "its one button puts the draft away"
LATER = "a lab just set up has its first version only"

PAGES: Album = {
    "lab": (page("pavo"),),
    "lab-profile": (page("pavo", error=EMPTY_FORM),),
    "people": (page("pavo", error=EMPTY_FORM),),
    "person": (
        entry(pk="technician", error=EMPTY_FORM),
        page("pavo", pk="manager", label="manager", error="as of a technician"),
    ),
    "skills": (page("pavo", error=EMPTY_FORM),),
    "skill-change": (page("pavo", pk="skill", error=EMPTY_FORM),),
    "hours": (page("pavo", error=Sent({"day-0": "17:00-08:00"}, keep=True)),),
    "lab-planning": (page("pavo", error=EMPTY_FORM),),
    "closed-days": (page("pavo", error=ADDING),),
    "closed-days-holidays": (
        page("pavo"),
        page("pavo", label="chosen", query="?country=AT&year=2026", error=EMPTY_FORM),
    ),
    "stations": (page("pavo", error=EMPTY_FORM),),
    "station-change": (page("pavo", pk="station", error=EMPTY_FORM),),
    "baths": (page("pavo", error=EMPTY_FORM),),
    "bath-change": (entry(pk="bath"),),
    "probes": (entry(pk="bath"),),
    "bath-feed": (
        page("pavo", pk="bath", empty=NO_OBJECT, error="it has one button, which ends the feed"),
        page(
            "pavo",
            pk="bare bath",
            label="none",
            empty=NO_OBJECT,
            error=Sent(form="form.settings-form"),
        ),
    ),
    "bath-lag": (
        entry(pk="bath", error=Sent(form="form.settings-form")),
        page("pavo", pk="bare bath", label="none", empty=NO_OBJECT, error="as of another bath"),
    ),
    "bath-lag-read": (
        page(
            "pavo",
            pk="bath",
            sha256="run hash",
            empty=NO_OBJECT,
            error=Sent({"ran_on": "2031-01-01"}, form="form.settings-form", keep=True),
        ),
    ),
    "resins": (page("pavo", error=EMPTY_FORM),),
    "resin": (entry(pk="resin"),),
    "program-new": (
        entry(pk="resin"),
        page(
            "pavo",
            label="example",
            query="?from=short",
            empty=NO_OBJECT,
            pk="resin",
            error=Sent({"minutes-2": "0", "celsius-2": "70"}, form="form.program-form", keep=True),
        ),
    ),
    "program": (entry(pk="program", error=Sent(form="form.program-form")),),
    "cure-limits": (
        page(
            "pavo",
            error=Sent(
                {"near_c": "120", "reason": "The maker says so."},
                form="form.rules-form",
                keep=True,
            ),
        ),
    ),
    "things": (page("pavo", error=ADDING),),
    "tablets": (page("pavo", error=ADDING),),
    "practices": (page("pavo"),),
    "practice-new": (page("pavo", error=EMPTY_FORM),),
    "practice-settings": (entry(pk="practice"),),
    "dentist-change": (entry(pk="prescriber"),),
    "design-rules": (
        page("pavo", error=Sent({"PATH-1-tilt": "99"}, form="form.rules-form", keep=True)),
    ),
    "route": (page("pavo"), page("pavo drafting", label="draft", empty=LATER, error=PUT_AWAY)),
    "route-review": (
        page("pavo drafting", error=EMPTY_FORM, empty=LATER),
        page("pavo muddled", label="refused", empty=LATER, error=PUT_AWAY),
    ),
    "route-versions": (page("pavo"),),
    "route-version": (page("pavo", number="route version"),),
    "route-stage-new": (page("pavo", error=EMPTY_FORM),),
    "route-stage": (page("pavo", key="stage key", error=EMPTY_FORM),),
    "route-check-new": (page("pavo", error=EMPTY_FORM),),
    "route-check": (page("pavo", number="check number", error=EMPTY_FORM),),
}
