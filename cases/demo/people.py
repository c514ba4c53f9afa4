"""Who works in the invented laboratory, who orders from it, and how each of them comes in."""

from __future__ import annotations

from dataclasses import dataclass

LAB = "Kestrelmoor Dental Workshop"
ADDRESS = "4 Weir Steps\nKestrelmoor"
ZONE = "Europe/Vienna"

PASSWORD = "quiet-plaster-42"  # noqa: S105  (an invented lab's, printed at every demo start)
"""The password of every sign-in of the demo lab."""
PIN = "2580"
"""The PIN of every technician of the demo lab."""


@dataclass(frozen=True)
class Worker:
    """Somebody of the lab: skills by key with speed, and whose work they may countersign.

    ``lunch``: the wall times between which the person is at table.
    """

    key: str
    name: str
    roles: tuple[str, ...]
    username: str = ""
    skills: tuple[tuple[str, str], ...] = ()
    signs: bool = False
    student: bool = False
    lunch: tuple[str, str] = ("12:00", "12:30")
    days: tuple[int, ...] = (0, 1, 2, 3, 4)


@dataclass(frozen=True)
class Prescriber:
    """A dentist; ``username`` where there is a sign-in."""

    key: str
    name: str
    licence: str
    practices: tuple[str, ...]
    username: str = ""


@dataclass(frozen=True)
class Place:
    """A practice and how its boxes travel. ``rings``: who telephones from there."""

    code: str
    name: str
    address: str
    phone: str
    van_route: str
    ship_weekdays: tuple[int, ...]
    transit_days: int
    cut_off: str
    rings: str
    usual_borders: str = ""
    usual_polish: str = ""


WORKERS: tuple[Worker, ...] = (
    Worker(
        "juno", "Juno Harrelt", ("technician",), "",
        (("survey", "1.1"), ("wire", "1.1"), ("join", "1.0"), ("inspect", "1.0"), ("wax", "0.9")),
        signs=True,
    ),
    Worker(
        "bram", "Bram Ostikk", ("technician",), "",
        (("model", "1.0"), ("flask", "1.1"), ("pack", "1.0"), ("desk", "1.0")),
        signs=True, lunch=("12:30", "13:00"),
    ),
    Worker(
        "selma", "Selma Vintry", ("technician", "manager"), "selma",
        (("set-up", "1.1"), ("wax", "1.0"), ("survey", "0.9"), ("inspect", "1.1")),
        signs=True, lunch=("13:00", "13:30"),
    ),
    Worker(
        "tavi", "Tavi Ornel", ("technician",), "",
        (("finish", "1.1"), ("wire", "0.9"), ("inspect", "0.9"), ("set-up", "0.9")),
        signs=True, lunch=("12:30", "13:00"),
    ),
    Worker(
        "odile", "Odile Marsk", ("technician",), "",
        (("flask", "1.0"), ("pack", "1.1"), ("finish", "1.0"), ("model", "0.9")),
        signs=True, lunch=("12:00", "12:30"),
    ),
    Worker(
        "pip", "Pip Lorrenz", ("technician",), "",
        (("model", "0.7"), ("wax", "0.6"), ("flask", "0.7")),
        student=True, lunch=("12:00", "12:30"),
    ),
    Worker(
        "nella", "Nella Quist", ("desk", "technician"), "nella",
        (("desk", "1.0"),), lunch=("13:00", "13:30"),
    ),
    Worker("corin", "Corin Valder", ("manager",), "corin"),
)  # fmt: skip

MANAGER = "corin"
DESK = "nella"

PLACES: tuple[Place, ...] = (
    Place(
        "QF", "Quillfield Surgery", "12 Orchard Row, Quillfield", "555 0101", "North round",
        (0, 1, 2, 3, 4), 1, "15:30", "Mina at the desk", "left-full", "all-outer",
    ),
    Place(
        "OH", "Otterholt Dental Rooms", "Mill Yard 3, Otterholt", "555 0102", "North round",
        (0, 2, 4), 1, "15:30", "Dr Varnholt",
    ),
    Place(
        "LS", "Lanternstairs Practice", "2 Lantern Stairs, Kestrelmoor", "555 0103",
        "On foot, next door", (0, 1, 2, 3, 4), 0, "16:30", "Ossian at reception",
    ),
    Place(
        "SM", "Saltmarrow Dentists", "Ropewalk 40, Saltmarrow", "555 0104", "Coast round",
        (1, 3), 1, "14:30", "Dr Elbrich", "reduced-2mm",
    ),
    Place(
        "BM", "Brackenmoor Dental House", "Upper Lane 7, Brackenmoor", "555 0105", "Coast round",
        (1, 3, 4), 2, "14:30", "Tove at reception", "", "outer-borders-left",
    ),
)  # fmt: skip

PRESCRIBERS: tuple[Prescriber, ...] = (
    Prescriber("halden", "Dr Noor Haldensen", "K-1042", ("QF",), "halden"),
    Prescriber("moenne", "Dr Idris Moenne", "K-1107", ("QF",)),
    Prescriber("varnholt", "Dr Ilse Varnholt", "K-0988", ("OH",), "varnholt"),
    Prescriber("ostrowe", "Dr Lenka Ostrowe", "K-1213", ("LS",), "ostrowe"),
    Prescriber("brigge", "Dr Hale Brigge", "K-1150", ("LS", "QF")),
    Prescriber("elbrich", "Dr Tomas Elbrich", "K-0871", ("SM",)),
    Prescriber("raskova", "Dr Sunniva Rask", "K-1301", ("BM",)),
    Prescriber("quilling", "Dr Petra Quilling", "K-1176", ("BM",)),
)

RECEPTION = ("LS", "Ossian Feld", "ossian")
"""Practice, name and user name of the one receptionist who signs in."""


def usernames() -> tuple[str, ...]:
    """Return everybody who signs in with a user name, the lab's people first."""
    named = (*(one.username for one in WORKERS), *(one.username for one in PRESCRIBERS))
    return (*(name for name in named if name), RECEPTION[2])
