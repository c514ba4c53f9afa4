"""The design before the pencil: what an order lets one expect.

It only plans the work until the survey; it decides nothing about the mouth.
"""

from __future__ import annotations

from collections.abc import Collection

from cases.domain import teeth
from cases.domain.design import Arch, Clasp, Design
from cases.domain.subjects import bases, gap_walls, standing
from cases.domain.words import N_

# How many clasps are expected until the survey. common practice, no published source
EXPECTED_CLASPS = 2

# What the desk and the plan say of an expected design.
ASSUMPTION_WORDS = N_(
    "Assumed until the survey: two clasps on the teeth beside the gaps, and block-out in plaster "
    "on the faces beside the gaps."
)


def expected_design(
    arch: Arch,
    missing: Collection[int],
    replaced: Collection[int],
    extracted: Collection[int] = frozenset(),
    *,
    third_molar_abutments: Collection[int] = frozenset(),
    clasp_teeth: Collection[int] = frozenset(),
    bar: bool = False,
) -> Design:
    """Return the provisional design that the prescription lets one expect.

    Parameters
    ----------
    missing, replaced, extracted
        FDI numbers of one arch. Teeth replaced or extracted count as missing.
    third_molar_abutments
        Third molars that stand and may bear a clasp.
    clasp_teeth
        The teeth the practice wants clasped; none: two are assumed beside the gaps.
    bar
        Whether the practice asked for a bar.

    Raises
    ------
    ValueError
        A number is no tooth of this arch.
    """
    gone = frozenset(missing) | frozenset(replaced) | frozenset(extracted)
    row = teeth.teeth_of_arch(arch)
    for tooth in sorted(gone | frozenset(clasp_teeth) | frozenset(third_molar_abutments)):
        if tooth not in row:
            raise ValueError(f"{tooth} is no tooth of the {arch} arch.")
    bare = Design(
        arch=arch,
        missing=gone,
        replaced=frozenset(replaced),
        extracted=frozenset(extracted),
        abutments=frozenset(third_molar_abutments) - gone,
    )
    chosen = [tooth for tooth in row if tooth in clasp_teeth and tooth not in gone]
    return Design(
        arch=arch,
        missing=gone,
        replaced=frozenset(replaced),
        extracted=frozenset(extracted),
        abutments=bare.abutments,
        clasps=tuple(Clasp(tooth) for tooth in chosen or _likely_clasps(bare)),
        bar=bar,
        blocked=frozenset(gap_walls(bare)),
        method="plaster",
        provisional=True,
    )


def _likely_clasps(design: Design) -> list[int]:
    """Two standing teeth, one a side where that can be, beside the gaps before others.

    Incisors are left out; a premolar or molar is taken before a canine, which shows.
    """
    row = teeth.teeth_of_arch(design.arch)
    walls = {tooth for tooth, _side in gap_walls(design)}
    fit = [tooth for tooth in standing(design) if teeth.kind(tooth) != "incisor"]

    def rank(tooth: int) -> tuple[bool, bool, int]:
        return tooth not in walls, teeth.kind(tooth) == "canine", tooth % 10

    fit.sort(key=rank)
    chosen: list[int] = []
    for right in (True, False):
        chosen += [tooth for tooth in fit if teeth.is_right(tooth) is right][:1]
    chosen += [tooth for tooth in fit if tooth not in chosen]
    return sorted(chosen[:EXPECTED_CLASPS], key=row.index) if bases(design) else []
