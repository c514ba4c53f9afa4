"""What people of the invented lab write: notes, mishaps, reasons. Nothing of it ever happened."""

from __future__ import annotations

HAND_OVERS = (
    "Left side done, right shoulder still to bend.",
    "Teeth set, only the foil is left to check.",
    "Waxed to the palate; the border on the right is missing.",
    "Rough trimmed, the fitting side still to feel with gauze.",
)

NOTES = (
    "Thin ridge on the right: go easy when trimming.",
    "Shade tab is in the drawer of the set-up bench.",
    "Old piece goes back with the new one.",
    "Second pour made, kept on shelf 3.",
)

CALLS = (
    "Asked whether it can come a day earlier. Said we ring back.",
    "Patient now prefers the afternoon; the day stays.",
    "Wanted to know where it is. Told: on the bench.",
    "Please put the old piece in the box.",
)

MISHAPS = (
    "Stone tooth chipped while trimming; glued back, sits true.",
    "Wire slipped from the pliers and was nicked. New one bent.",
    "Plaster ran over the rim of the flask.",
    "Dropped on the felt. Nothing broken, looked at under the lamp.",
)

SENT_BACK: dict[str, tuple[str, str, str]] = {
    "wax-pass": ("wax", "wax-thickness", "Palate is thin behind the front teeth."),
    "wax": ("teeth", "teeth-or-bite", "First molar keeps the natural teeth apart."),
    "inspect": ("finish", "border-order", "Border longer than ordered on the left."),
    "fit": ("take-off", "undercut-open", "Does not come off freely, easing needed."),
    "flask-lower": ("wax", "clasp-not-as-designed", "Wax ran over the arm."),
}
"""Stage → (stage it goes back to, reason, words)."""

CONCEDED = ("no-room", "at-the-limit", "short-wear", "cosmetic", "mended")

CORRECTED = ("interrupted", "forgot-stop", "helped", "teaching")

QUESTIONS: tuple[tuple[int, str], ...] = ((10, "clasp"), (12, "lean"), (16, "bar"), (13, "cast"))
"""Questions that come up at the survey, and what they are about."""

ANSWER_NOTES: dict[str, str] = {
    "text": "As on the drawing we sent.", "time": "half past two", "date": "on Thursday",
    "minutes": "10 minutes", "arch": "As ticked on the order.", "teeth": "The tooth behind it.",
    "shade": "A2, guide: the practice's own", "mould": "3C", "agent": "hospital disinfectant",
}  # fmt: skip
SETTLED = "Read to the bench."

GOOD_REPORT: dict[str, object] = {
    "retention": "good", "support": "good", "occlusion": "good", "sore_spots": "good",
    "chairside_minutes": 0,
}  # fmt: skip
FAIR_REPORTS: tuple[dict[str, object], ...] = (
    {
        "retention": "good", "support": "eased", "occlusion": "good", "sore_spots": "good",
        "chairside_minutes": 10, "adjusted": ["tight-tooth-side"],
        "words": "Went down after easing behind the premolar.",
    },
    {
        "retention": "tight", "support": "good", "occlusion": "ground-in", "sore_spots": "eased",
        "chairside_minutes": 15, "adjusted": ["clasp-tight", "bite-high"],
    },
    {
        "retention": "good", "support": "good", "occlusion": "good", "sore_spots": "eased",
        "chairside_minutes": 5, "adjusted": ["border-long"],
    },
)  # fmt: skip
BAD_REPORT: dict[str, object] = {
    "retention": "loose", "support": "does-not-seat", "occlusion": "high",
    "sore_spots": "remain", "chairside_minutes": 35, "adjusted": ["rocks", "bite-high"],
    "words": "Rocks over the palate whatever I ease. Please make it again.",
}  # fmt: skip
HALF_REPORT: dict[str, object] = {"retention": "good", "support": "good"}

REMADE = (
    ("does-not-seat-cast-not-true", "impression"),
    ("wrong-bite", "bench"),
    ("further-tooth-lost", "mouth-changed"),
)
"""Reason and where it came from."""
