"""The bench: the list of work, a stage in each of its states, its small pages."""

from __future__ import annotations

from tests.pictures.album.entries import EMPTY_FORM, NO_CASE, Album, NoPicture, Sent, page

PAGES: Album = {
    "bench": (
        page("mara@tablet", error=Sent({"code": "26-0001-X"}, form="form.scan")),
        page("mara", label="computer", error="as on the tablet"),
        page("teo@tablet", label="student", error="as on the tablet", empty="as of everybody"),
    ),
    "bench-put-down": (
        page("teo@tablet", error=Sent(form="main form:has([name=until])", button="[value=at]"),
             empty="asks about stages in hand, and in an empty lab there is none"),
    ),
    "bench-batch": (
        page("mara@tablet", key="batch", empty=NO_CASE, error=EMPTY_FORM),
    ),
    "bench-stage": (
        page("mara@tablet", pk="survey", label="running", empty=NO_CASE,
             error=Sent(form="form[action$='/mishap/']")),
        page("oren@tablet", pk="failed stage", label="failed", empty=NO_CASE,
             error="is itself the refusal: with a failed check nothing can be passed"),
        page("mara@tablet", pk="ready stage", label="ready", empty=NO_CASE,
             error=Sent(form="form[action$='/start/']")),
        page("mara@tablet", pk="waiting stage", label="waiting", empty=NO_CASE,
             error="cannot be begun, so nothing is sent"),
        page("mara@tablet", pk="held stage", label="held", empty=NO_CASE,
             error="cannot be begun, so nothing is sent"),
        page("mara@tablet", pk="signed stage", label="countersign", empty=NO_CASE,
             error=Sent(form="form[action*='/countersign/']")),
        page("mara@tablet", pk="packing", label="packing", empty=NO_CASE,
             error=Sent({"room_c": "75"}, form="form[action$='/mixed/']")),
        page("mara@tablet", pk="done stage", label="done", empty=NO_CASE,
             error="is over, so nothing is sent"),
    ),
    "bench-now": NoPicture("is one line of the bench's page, asked for anew while it stands open"),
    "bench-dough": NoPicture("is the part of the page of a packing that is asked for anew"),
    "bench-back": (page("oren@tablet", pk="failed stage", empty=NO_CASE, error=EMPTY_FORM),),
    "bench-hold": (page("oren@tablet", pk="failed stage", empty=NO_CASE, error=EMPTY_FORM),),
    "bench-skip": (page("mara@tablet", pk="ready stage", empty=NO_CASE, error=EMPTY_FORM),),
    "bench-ask": (
        page("oren@tablet", pk="failed stage", empty=NO_CASE),
        page("oren@tablet", pk="failed stage", label="one", query="?number=10", empty=NO_CASE,
             error=EMPTY_FORM),
    ),
}  # fmt: skip
