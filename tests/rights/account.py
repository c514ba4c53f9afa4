"""Rights at signing in, passwords, tablets and PINs."""

from __future__ import annotations

from tests.rights.kinds import EVERYBODY, WORK
from tests.rights.rows import Table, row

ROWS: Table = {
    "home": (row(EVERYBODY, led=True),),
    "first-run": (row(EVERYBODY, led=True),),
    "sign-in": (row(EVERYBODY, led=True),),
    "sign-out": (row(EVERYBODY, led=True),),
    "invitation": (row(EVERYBODY, led=True, token="invitation"),),
    "account": (row(EVERYBODY, led=True),),
    "password-change": (row(EVERYBODY, led=True),),
    "own-pin": (row(WORK),),
    "password-reset": (row(EVERYBODY, led=True),),
    "password-reset-sent": (row(EVERYBODY, led=True),),
    "password-reset-confirm": (row(EVERYBODY, led=True, uidb64="nobody", token="nothing"),),
    "bench-names": (row(EVERYBODY, led=True),),
    "bench-pin": (row(EVERYBODY, led=True, pk="technician"),),
    "bench-lock": (row(EVERYBODY, led=True),),
    "bench-leave": (row(WORK, led=True),),
}
