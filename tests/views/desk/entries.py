"""What a browser sends from the intake when the desk entered a complete order."""

from __future__ import annotations

import uuid
from typing import Any

from tests.factories import Shop


def entries(shop: Shop, **changes: Any) -> dict[str, Any]:
    """Return a complete order of NOW for a lower free-end piece; None leaves an entry out."""
    body: dict[str, Any] = {
        "submission_id": str(uuid.uuid4()),
        "practice": str(shop.practice.pk),
        "dentist": str(shop.dentist.pk),
        "patient_ref": "q-1180",
        "kind": "new",
        "arch": "lower",
        "description": "Interim partial denture",
        "replaces": "36-37, 46 47",
        "shade_how": "laboratory",
        "mould_how": "laboratory",
        "materials": "Heat-cured acrylic, wrought wire",
        "borders": "left-full",
        "polish": "all-outer",
        "bite": "by-hand",
        "try_in": "no",
        "allergies": ["none-known"],
        "ordered_on": "2026-12-08",
        "appointment_on": "2026-12-23",
        "received_on": "2026-12-09",
        "received_time": "10:40",
        "working_came": "here",
        "working_form": "impression",
        "working_material": "alginate",
        "working_taken_on": "2026-12-09",
        "working_taken_time": "10:35",
        "working_tray": "stock",
        "opposing_came": "here",
        "opposing_form": "impression",
        "opposing_same": "on",
        "disinfected": "yes",
        "disinfected_by": "practice",
        "disinfected_with": "hospital disinfectant",
        "disinfected_minutes": "10",
        "signed": "on",
        "licence_given": "on",
    }
    body |= changes
    return {name: value for name, value in body.items() if value is not None}
