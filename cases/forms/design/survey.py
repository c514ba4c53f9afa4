"""The entries of the survey: the tilt, and what the gauge showed at each face."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from cases.domain.design import Design, Survey, Undercut
from cases.domain.subjects import gap_walls, standing
from cases.forms.design.clasps import LEVEL_STEPS, UNDERCUT_STEPS
from cases.forms.design.entries import SIDES, MillimetreField, along, number

Face = tuple[int, str]

TILTS = (
    ("", gettext_lazy("Level")),
    ("front", gettext_lazy("The front lowered")),
    ("back", gettext_lazy("The back lowered")),
    ("right", gettext_lazy("The patient’s right lowered")),
    ("left", gettext_lazy("The patient’s left lowered")),
)
MOST_TILT_DEG = 30
"""No surveyor table is used beyond it. Judgement."""


def faces_to_survey(design: Design, more: Iterable[Face] = ()) -> list[Face]:
    """Return the faces whose undercut is asked for: gap walls, blocked-out faces, those already
    looked at, both sides of each clasped tooth (arm and bracing), and those named besides."""
    looked_at = {(found.tooth, str(found.side)) for found in design.survey.undercuts}
    clasped = {(clasp.tooth, side) for clasp in design.clasps for side in ("buccal", "lingual")}
    wanted = set(gap_walls(design)) | set(design.blocked) | looked_at | clasped | set(more)
    return along(wanted, design.arch)


def step_name(face: Face) -> str:
    """Return the name of the entry of a face's step."""
    return f"step_{face[0]}_{face[1]}"


def level_name(face: Face) -> str:
    """Return the name of the entry of a face's step with the cast level."""
    return f"flat_{face[0]}_{face[1]}"


def add_tilt(form: forms.Form) -> None:
    """Add the entries of the tilt."""
    form.fields["tilt_to"] = forms.ChoiceField(
        label=_("How the cast is tilted"), choices=TILTS, required=False
    )
    form.fields["tilt_deg"] = MillimetreField(
        label=_("Degrees from level"), required=False, min_value=0, max_value=MOST_TILT_DEG
    )
    form.fields["marked"] = forms.BooleanField(
        label=_("Three marks on the cast: it can be put back the same way"), required=False
    )


def add_faces(form: forms.Form, faces: Iterable[Face], label: Callable[[int], str]) -> None:
    """Add the two entries of each face, its tooth as ``label`` writes it."""
    for face in faces:
        said = {"face": f"{label(face[0])} {_(SIDES[face[1]])}"}
        form.fields[step_name(face)] = forms.ChoiceField(
            label=_("Undercut at %(face)s") % said, choices=UNDERCUT_STEPS, required=False
        )
        form.fields[level_name(face)] = forms.ChoiceField(
            label=_("Undercut at %(face)s with the cast level") % said,
            choices=LEVEL_STEPS,
            required=False,
        )


def initial_of(survey: Survey) -> dict[str, Any]:
    """Return a survey as its entries show it."""
    shown: dict[str, Any] = {
        "tilt_to": survey.tilt_to,
        "tilt_deg": number(survey.tilt_deg),
        "marked": survey.marked,
    }
    for found in survey.undercuts:
        face = (found.tooth, str(found.side))
        shown[step_name(face)] = number(found.step_mm)
        shown[level_name(face)] = number(found.level_mm)
    return shown


def survey_of(data: Mapping[str, Any], faces: Iterable[Face]) -> Survey:
    """Return the survey of valid entries; a face nobody looked at is left out."""
    found = []
    for tooth, side in faces:
        step, level = data.get(step_name((tooth, side))), data.get(level_name((tooth, side)))
        if step:
            found.append(
                Undercut(tooth, side, float(step), float(level) if level else None)  # type: ignore[arg-type]
            )
    tilt = data.get("tilt_deg")
    level_said = tilt is None and data.get("marked") and not data.get("tilt_to")
    return Survey(
        tilt_deg=0.0 if level_said else tilt,
        tilt_to=data.get("tilt_to") or "",
        marked=bool(data.get("marked")),
        undercuts=tuple(found),
    )


def is_ridge(face: Face, design: Design) -> bool:
    """Tell whether a face is an area of the ridge rather than the side of a tooth."""
    return face[0] not in standing(design)
