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
        True where it has teeth on both sides of the mouth.
    """

    teeth: tuple[int, ...]
    free_end: bool
    crosses_midline: bool

    @property
    def farthest_back(self) -> int:
        """Place of its hindmost tooth, 1 at the midline to 8."""
        return max(fdi % 10 for fdi in self.teeth)

    def place(self, notation: str = "fdi") -> str:
        """Say its teeth and where they lie, like "45–46 on the right".

        Raises
        ------
        ValueError
            If ``notation`` is not a tooth numbering system.
        """
        # On one side of the mouth one counts backwards from the front.
        row = self.teeth if self.crosses_midline else sorted(self.teeth)
        labels = [teeth.label(fdi, notation) for fdi in row]
        whole = teeth.teeth_of_arch(teeth.arch_of(row[0]))
        # A missing tooth that is not replaced lies between two of an area without being part of it.
        unbroken = abs(whole.index(row[0]) - whole.index(row[-1])) == len(row) - 1
        said = {"teeth": f"{labels[0]}–{labels[-1]}" if unbroken and row[1:] else ", ".join(labels)}
        if self.crosses_midline:
            return _("%(teeth)s across the midline") % said
        if teeth.is_right(row[0]):
            return _("%(teeth)s on the right") % said
        return _("%(teeth)s on the left") % said

    def words(self, notation: str = "fdi") -> str:
        """Say what it is and where, like "bounded gap 45–46 on the right".

        Raises
        ------
        ValueError
            If ``notation`` is not a tooth numbering system.
        """
        place = {"place": self.place(notation)}
        if self.free_end:
            return _("free end %(place)s") % place
        return _("bounded gap %(place)s") % place


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
        return ngettext(
            "%(class)s, %(count)s more gap", "%(class)s, %(count)s more gaps", self.modifications
        ) % {"class": words, "count": self.modifications}

    @property
    def deciding(self) -> tuple[Area, ...]:
        """The areas that decide the class: the free ends, or else the one farthest back."""
        free_ends = tuple(area for area in self.areas if area.free_end)
        if free_ends or not self.areas:
            return free_ends
        # Of two that reach equally far back either decides; the first is named.
        return (max(self.areas, key=lambda area: area.farthest_back),)

    @property
    def modifying(self) -> tuple[Area, ...]:
        """The areas that are counted as modifications."""
        if not self.modifications:
            return ()
        deciding = self.deciding
        return tuple(area for area in self.areas if area not in deciding)

    def why(self, notation: str = "fdi") -> tuple[str, ...]:
        """Say why, area by area.

        Parameters
        ----------
        notation
            How the reader writes teeth.

        Returns
        -------
        tuple of str
            First the class with the areas that decide it, then one sentence a modification.

        Raises
        ------
        ValueError
            If ``notation`` is not a tooth numbering system.
        """
        reason = _(_REASONS[self.kennedy])
        if self.kennedy == "edentulous":
            return (reason,)
        places = [area.place(notation) for area in self.deciding]
        both = _("%(one)s and %(other)s")
        first = _("Class %(class)s, %(reason)s: %(places)s") % {
            "class": self.kennedy,
            "reason": reason,
            "places": places[0]
            if len(places) == 1
            else both % {"one": places[0], "other": places[1]},
        }
        return (
            first,
            *(
                _("Modification %(number)s: %(area)s")
                % {"number": number, "area": area.words(notation)}
                for number, area in enumerate(self.modifying, start=1)
            ),
        )


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
            sides = {teeth.is_right(fdi) for fdi in run}
            free_end = run_start == 0 or index == len(row)
            areas.append(Area(tuple(run), free_end, len(sides) == 2))
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
