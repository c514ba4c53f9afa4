"""Coming in, passwords, tablets and PINs."""

from __future__ import annotations

from tests.pictures.album.entries import (
    NO_FORM,
    NO_WORDS,
    Album,
    NoPicture,
    Sent,
    page,
)

ALL_FIT = "offers choices only, and each can be taken"

PAGES: Album = {
    "home": NoPicture("leads everybody to their own first page"),
    "first-run": NoPicture(
        "leads to the sign-in once the lab is set up; test_other_labs.py photographs it before"
    ),
    "sign-in": (
        page("", error=Sent({"username": "noor", "password": "wrong"}), long=NO_WORDS),
    ),
    "invitation": (
        page("", token="invitation", error=Sent({"username": "lind", "password": "short"})),
        page("", label="over", token="nothing", status=410, error=NO_FORM, empty=NO_WORDS),
    ),
    "account": (
        page("mara", error=ALL_FIT),
        page("lind", label="dentist", error=ALL_FIT, empty=NO_WORDS),
    ),
    "password-change": (
        page("noor", error=Sent({"old": "wrong", "new": "a"}), long=NO_WORDS),
    ),
    "own-pin": (
        page("mara", error=Sent({"old": "0000", "new": "12"}), long=NO_WORDS),
        page("mara@tablet", label="tablet", error=Sent({"old": "0000", "new": "12"})),
    ),
    "password-reset": (page("", error=Sent({"email": "no address"}), long=NO_WORDS),),
    "password-reset-sent": (page("", long=NO_WORDS),),
    "password-reset-confirm": (
        page("", uidb64="user", token="reset token", long=NO_WORDS,
             error=Sent({"new_password1": "a", "new_password2": "b"})),
        page("", label="over", uidb64="nobody", token="nothing", long=NO_WORDS, empty=NO_WORDS),
    ),
    "bench-names": (page("@tablet"),),
    "bench-pin": (page("@tablet", pk="technician", error=Sent({"pin": "0000"})),),
    "bench-leave": (
        page("oren@tablet", error="pauses what runs, and has nothing to fill in"),
        page("oren", label="computer", error="pauses what runs, and has nothing to fill in"),
    ),
}  # fmt: skip
