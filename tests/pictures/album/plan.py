"""The plan."""

from __future__ import annotations

from tests.pictures.album.entries import NO_OBJECT, NO_WORDS, Album, NoPicture, Sent, page

PAGES: Album = {
    "plan": (
        page("pavo"),
        page("noor", label="desk"),
        page("pavo", label="places", query="?by=places", empty="as by person", long="as by person"),
        page("mara@tablet", label="tablet"),
    ),
    "plan-week": (page("pavo"),),
    "plan-late": (page("pavo"),),
    "plan-stage": (
        page("pavo", pk="planned stage", error=Sent(button="[value=pin]"), empty=NO_OBJECT),
        page(
            "mara", label="technician", pk="planned stage", empty=NO_OBJECT,
            error="decides nothing about the plan",
        ),
    ),
    "plan-promise": (
        page(
            "noor", query="?practice=1&arch=lower&teeth=36+46&appointment_on=2026-12-21",
            error=Sent(form="main form.plan-ask"), empty=NO_OBJECT, long=NO_WORDS,
        ),
    ),
    "plan-state": NoPicture("gives one line of the plan's pages anew while the planner works"),
}  # fmt: skip
