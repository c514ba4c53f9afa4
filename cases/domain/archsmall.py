"""The small drawing of an arch, the face of a case in a list, put together from written pieces.

Letter for letter what ``archsvg.to_svg`` writes of ``archdrawing.draw``, which alone says what is
drawn; a test holds the two against each other. A list of a hundred cases shows a hundred designs,
but their crowns, arms and stretches of base are the same few: each is drawn and written once for a
process, at the first design that has it.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from functools import lru_cache
from html import escape
from typing import Final, Literal

from cases.domain import archbase, archsvg, teeth
from cases.domain.archbase import BaseProfile, Span, full_cells, span_of
from cases.domain.archdrawing import Drawing, crown_role, draw
from cases.domain.archform import ArchInput, ClaspOrigin, form_of
from cases.domain.archshapes import Role

# What is further from a stretch of base than this does not shape it: neither the round of an end,
# nor the fall of the border, nor the points beside a turn reach so far. A tooth is wider.
_NEAR_MM: Final = 4.0
_KEPT: Final = 4096
_Shown = Literal["standing", "primary", "extracted", "held"]


@lru_cache(maxsize=16)
def _empty(arch: teeth.Arch, size: int) -> Drawing:
    """The paper of a small drawing."""
    return Drawing((), draw(ArchInput(arch), size=size, detailed=False).box, size, detailed=False)


@lru_cache(maxsize=256)
def _group_opening(role: Role, arch: teeth.Arch, size: int) -> str:
    return archsvg.group_opening(role, _empty(arch, size))


@lru_cache(maxsize=16)
def _opening(arch: teeth.Arch, size: int) -> str:
    return archsvg.opening(_empty(arch, size))


@lru_cache(maxsize=16)
def _pieces(
    arch: teeth.Arch, shown: _Shown, origin: ClaspOrigin = "distal"
) -> dict[tuple[Role, int], str]:
    """Write what a whole arch of such teeth shows, by role and tooth.

    "held": every tooth with a clasp from ``origin`` and a rest.
    """
    row = teeth.teeth_of_arch(arch)
    design = ArchInput(
        arch,
        primary=row if shown == "primary" else (),
        extracted=row if shown == "extracted" else (),
        clasps=tuple((fdi, origin) for fdi in row) if shown == "held" else (),
        rests=row if shown == "held" else (),
    )
    written: dict[tuple[Role, int], str] = {}
    for shape in draw(design, detailed=False).shapes:
        if shape.fdi is not None:
            key = (shape.role, shape.fdi)
            written[key] = written.get(key, "") + archsvg.element(shape, _scale(arch))
    return written


@lru_cache(maxsize=2)
def _scale(arch: teeth.Arch) -> int:
    return archsvg.scale_of(_empty(arch, 1))


@lru_cache(maxsize=_KEPT)
def _cell(
    arch: teeth.Arch,
    index: int,
    full: tuple[bool, ...],
    start_mm: float | None,
    end_mm: float | None,
) -> tuple[archsvg.Run, archsvg.Run] | None:
    """Write the two edges of the base in one cell, or None where no point of them lies in it.

    Parameters
    ----------
    index
        Of the cell, as in ``archbase.full_cells``.
    full
        Whether the border is full in the cell before, in this one and in the one behind.
    start_mm, end_mm
        Where the base ends; None for an end that is not near.

    Returns
    -------
    tuple or None
        The outer edge from the patient's right to the left, and the inner edge back.
    """
    form, bounds = form_of(arch), archbase.cell_edges(arch)
    low, high = bounds[index], bounds[index + 1]
    span = Span(
        -archbase.ENDLESS_MM if start_mm is None else start_mm,
        archbase.ENDLESS_MM if end_mm is None else end_mm,
    )
    around = (-archbase.ENDLESS_MM, low, high, archbase.ENDLESS_MM)
    profile = BaseProfile(form, archbase.full_stretches(around, full), span)
    stations = profile.stations(fine=False, within=(low, high))
    edges = [(along, *profile.at(along)) for along in stations]
    if not edges:
        return None
    outer = [form.at(along, out) for along, out, _ in edges]
    inner = [form.at(along, inside) for along, _, inside in reversed(edges)]
    return archsvg.run(outer, _scale(arch)), archsvg.run(inner, _scale(arch))


@lru_cache(maxsize=_KEPT)
def _back(arch: teeth.Arch, span: Span) -> archsvg.Run:
    return archsvg.run(archbase.palate_edge(form_of(arch), span), _scale(arch))


@lru_cache(maxsize=_KEPT)
def _bar(arch: teeth.Arch, span: Span) -> str:
    line = archbase.bar_along(form_of(arch), span)
    if line is None:
        return ""
    return f'<path d="{archsvg.path([archsvg.run(line, _scale(arch))], closed=False)}"/>'


@lru_cache(maxsize=_KEPT)
def _base(arch: teeth.Arch, full: tuple[bool, ...], span: Span) -> str:
    """Write the outline of the base."""
    bounds = archbase.cell_edges(arch)
    start, end = span.start_mm, span.end_mm
    near_start, near_end = start + _NEAR_MM, end - _NEAR_MM
    first, last = bisect_right(bounds, start) - 1, bisect_right(bounds, end) - 1
    around = (full[0], *full, full[-1])
    cells = [
        _cell(
            arch,
            index,
            around[index : index + 3],
            start if bounds[index] < near_start else None,
            end if bounds[index + 1] > near_end else None,
        )
        for index in range(first, last + 1)
    ]
    outer = [cell[0] for cell in cells if cell is not None]
    inner = [cell[1] for cell in cells if cell is not None]
    back = inner[::-1] if arch == "lower" else [_back(arch, span)]
    return f'<path d="{archsvg.path(outer + back, closed=True)}"/>'


def _groups(design: ArchInput) -> Iterator[tuple[Role, str]]:
    """Yield the groups in the order in which they are laid over each other."""
    arch = design.arch
    form = form_of(arch)
    span = span_of(form, design)
    if span is not None:
        yield "base", _base(arch, full_cells(form, design), span)
        if design.bar:
            yield "bar", _bar(arch, span)
    yield from _crowns(design)
    if design.extracted:
        pieces = _pieces(arch, "extracted")
        roles: tuple[Role, Role] = ("extracted-halo", "extracted")
        for role in roles:
            yield role, "".join([pieces[role, fdi] for fdi in design.extracted])
    if design.rests:
        origins = dict(design.clasp_origins)
        beside = [(_pieces(arch, "held", origins.get(fdi, "distal")), fdi) for fdi in design.rests]
        yield "rest", "".join([pieces["rest", fdi] for pieces, fdi in beside])
    held = [(_pieces(arch, "held", origin), fdi) for fdi, origin in design.clasp_origins]
    yield "clasp", "".join([pieces["clasp", fdi] for pieces, fdi in held])
    yield "clasp-tip", "".join([pieces["clasp-tip", fdi] for pieces, fdi in held])


def _crowns(design: ArchInput) -> Iterator[tuple[Role, str]]:
    standing = _pieces(design.arch, "standing")
    primary = _pieces(design.arch, "primary") if design.primary else standing
    by_role: dict[Role, list[str]] = {
        "crown-present": [], "crown-missing": [], "crown-replaced": [],
    }  # fmt: skip
    for fdi in teeth.teeth_of_arch(design.arch):
        role = crown_role(design, fdi)
        if role == "crown-missing" and teeth.is_third_molar(fdi):
            continue
        pieces = primary if fdi in design.primary else standing
        by_role[role].append(pieces["crown-present", fdi])
    for role, crowns in by_role.items():
        yield role, "".join(crowns)


def small_svg(design: ArchInput, *, size: int, title: str) -> str:
    """Write the drawing of a design without numbers, as an ``<svg>`` element.

    Parameters
    ----------
    design
        What to show.
    size
        Width on screen in px.
    title
        The sentence that says what is drawn, for people who do not see it.

    Raises
    ------
    ValueError
        If ``size`` is not positive.
    """
    arch = design.arch
    body = "".join(
        [
            f"{_group_opening(role, arch, size)}{inside}</g>"
            for role, inside in _groups(design)
            if inside
        ]
    )
    return f"{_opening(arch, size)}<title>{escape(title)}</title>{body}</svg>"
