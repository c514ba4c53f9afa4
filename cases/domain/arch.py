"""The Kennedy class of a partly edentulous arch, with Applegate's rules.

Source: Kennedy's classes and Applegate's rules as taught (McCracken's Removable Partial
Prosthodontics, from memory). A class describes the mouth as planned; it approves nothing.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final, Literal

from cases.domain import teeth
from cases.domain.words import N_, ngettext
from cases.domain.words import gettext as _

KennedyClass = Literal["I", "II", "III", "IV", "edentulous"]

_REASONS: Final[dict[KennedyClass, str]] = {
    "I": N_("bilateral free end"),
    "II": N_("unilateral free end"),
    "III": N_("bounded gap"),
    "IV": N_("one gap across the midline, in front of all remaining teeth"),
    "edentulous": N_("no teeth left in this arch"),
}


@dataclass(frozen=True, slots=True)
class Area:
    """One edentulous area that counts.

    Attributes
    ----------
    teeth
        FDI numbers, from the patient's right to the left.
    free_end
        True where no tooth bounds the area behind.
    crosses_midline
        True where both central incisors belong to it.
    """

    teeth: tuple[int, ...]
    free_end: bool
    crosses_midline: bool


@dataclass(frozen=True, slots=True)
class Classification:
    """The class of one arch; ``str()`` gives it as written, like "II mod 1".

    Attributes
    ----------
    kennedy
        ``"I"`` to ``"IV"``, or ``"edentulous"``.
    modifications
        Number of areas beside those that decide the class.
    areas
        Every area that counts, from the patient's right to the left.
    """

    kennedy: KennedyClass
    modifications: int
    areas: tuple[Area, ...]

    def __str__(self) -> str:
        if self.modifications:
            return f"{self.kennedy} mod {self.modifications}"
        return self.kennedy

    @property
    def reason(self) -> str:
        """Why this class, in words, like "unilateral free end, 1 more gap"."""
        words = _(_REASONS[self.kennedy])
        if not self.modifications:
            return words
        more = self.modifications
        return ngettext("%(words)s, %(more)d more gap", "%(words)s, %(more)d more gaps", more) % {
            "words": words,
            "more": more,
        }


def _arch_of_all(*groups: Collection[int]) -> teeth.Arch | None:
    arches = set()
    for group in groups:
        for fdi in group:
            arches.add(teeth.arch_of(fdi))
            if teeth.is_primary(fdi):
                raise ValueError(f"{fdi} is a primary tooth: Kennedy classes are for permanent.")
    if len(arches) > 1:
        raise ValueError("These teeth stand in two arches: classify one arch at a time.")
    return arches.pop() if arches else None


def _find_areas(row: list[int], missing: Collection[int]) -> tuple[Area, ...]:
    """Group neighbours of ``row`` that are missing; an area at an end of it is a free end."""
    areas: list[Area] = []
    run: list[int] = []
    run_start = 0
    for index in range(len(row) + 1):
        if index < len(row) and row[index] in missing:
            run_start = run_start if run else index
            run.append(row[index])
        elif run:
            central_incisors = sum(fdi % 10 == 1 for fdi in run)
            free_end = run_start == 0 or index == len(row)
            areas.append(Area(tuple(run), free_end, central_incisors == 2))
            run = []
    return tuple(areas)


def classify(
    missing: Collection[int],
    *,
    not_replaced: Collection[int] = frozenset(),
    third_molar_abutments: Collection[int] = frozenset(),
) -> Classification | None:
    """Classify a partly edentulous arch (Kennedy, with Applegate's rules).

    Parameters
    ----------
    missing
        FDI numbers of the teeth missing after the planned extractions, all of one arch.
    not_replaced
        Those of them that the appliance does not replace; they make no area (rules 2 and 4), and
        bound none. A missing third molar that is not named here is replaced.
    third_molar_abutments
        Standing third molars used as abutments; any other standing third molar is left out of
        account (rule 3).

    Returns
    -------
    Classification or None
        None where no area counts.

    Raises
    ------
    ValueError
        If a number is no permanent tooth, the teeth stand in two arches, or a third molar abutment
        is missing or is not a third molar.
    """
    arch = _arch_of_all(missing, not_replaced, third_molar_abutments)
    for fdi in sorted(third_molar_abutments):
        if not teeth.is_third_molar(fdi):
            raise ValueError(f"{fdi} is not a third molar.")
        if fdi in missing:
            raise ValueError(f"{fdi} is missing, so it cannot be an abutment.")
    if arch is None or not missing:
        return None

    row = teeth.teeth_of_arch(arch)
    standing = [
        fdi
        for fdi in row
        if fdi not in missing and (not teeth.is_third_molar(fdi) or fdi in third_molar_abutments)
    ]
    counted_missing = frozenset(missing) - frozenset(not_replaced)
    counted = [fdi for fdi in row if fdi in counted_missing or fdi in standing]
    areas = _find_areas(counted, counted_missing)
    if not standing:
        return Classification("edentulous", 0, areas)
    if not areas:
        return None

    free_ends = sum(area.free_end for area in areas)
    if free_ends == 2:
        return Classification("I", len(areas) - 2, areas)
    if free_ends == 1:
        return Classification("II", len(areas) - 1, areas)
    if len(areas) == 1 and areas[0].crosses_midline:
        return Classification("IV", 0, areas)
    return Classification("III", len(areas) - 1, areas)
