"""The arch of a case on a page: ``{% load arch %}{% arch design size=64 %}``."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from typing import Any

from django import template
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from cases import models
from cases.domain import toothwords
from cases.domain.archdrawing import DEFAULT_PX, DETAILED_FROM_PX, draw
from cases.domain.archform import ArchInput
from cases.domain.archsmall import small_svg
from cases.domain.archsvg import to_svg
from cases.domain.archtitle import TitleWords, say_arch
from cases.domain.claspchart import force_chart
from cases.domain.claspchartsvg import to_svg as chart_svg
from cases.domain.claspforecast import ClaspForecast
from cases.domain.design import Design
from cases.domain.teeth import from_fdi

register = template.Library()

Drawable = ArchInput | Design | models.Design | None


@lru_cache(maxsize=16)
def _words(language: str | None) -> TitleWords:
    """Collect the parts of the title in the active language; ``language`` keys the cache."""
    return TitleWords(
        upper=_("Upper arch"),
        lower=_("Lower arch"),
        nothing_replaced=_("no teeth replaced"),
        replaced=_("{teeth} replaced"),
        missing=_("{teeth} missing and not replaced"),
        extracted=_("{teeth} to be extracted"),
        milk=_("milk tooth {teeth}"),
        milks=_("milk teeth {teeth}"),
        clasp=_("clasp on {teeth}"),
        clasps=_("clasps on {teeth}"),
        rest=_("rest on {teeth}"),
        rests=_("rests on {teeth}"),
        bar=_("bar"),
        in_hand=_("turned as the cast in the hand"),
        span=_("{first} to {last}"),
        listed=_("{most} and {last}"),
        sentence=_("{arch}: {parts}"),
        comma=_(", "),
    )


def _arch_input(design: Drawable, changed: Iterable[int] = ()) -> ArchInput | None:
    if design is None or isinstance(design, ArchInput):
        return design
    if isinstance(design, models.Design):
        design = Design.from_json(design.data)
    return _input_of(design, tuple(changed))


@lru_cache(maxsize=1024)
def _input_of(design: Design, changed: tuple[int, ...]) -> ArchInput:
    """Take from a design what is drawn, once: putting it in order takes as long as the rest."""
    return ArchInput.from_design(design, changed=changed)


@lru_cache(maxsize=1024)
def _svg(
    shown: ArchInput,
    size: int,
    notation: str,
    words: TitleWords,
    *,
    in_hand: bool,
    detailed: bool | None,
    every_tooth: bool,
) -> str:
    title = say_arch(shown, notation=notation, in_hand=in_hand, words=words)
    small = size < DETAILED_FROM_PX if detailed is None else not detailed
    if small and not in_hand and not every_tooth:
        return small_svg(shown, size=size, title=title)
    drawing = draw(
        shown,
        size=size,
        notation=notation,
        in_hand=in_hand,
        detailed=detailed,
        every_tooth=every_tooth,
    )
    return to_svg(drawing, title=title)


@register.simple_tag
def arch(
    design: Drawable,
    size: int = DEFAULT_PX,
    notation: str = "fdi",
    *,
    in_hand: bool = False,
    detailed: bool | None = None,
    every_tooth: bool = False,
    changed: Iterable[int] = (),
) -> SafeString:
    """Draw the arch of a design as inline SVG.

    Parameters
    ----------
    design
        The design (a row, or the domain's), or an ``ArchInput``; nothing is drawn for None.
    size
        Width in px. From 180 px on the drawing has numbers unless ``detailed`` says otherwise.
    notation
        The reader's tooth numbering: ``"fdi"``, ``"universal"`` or ``"palmer"``.
    in_hand
        Turned by 180°, as the cast lies in the hand.
    every_tooth
        With the missing third molars, for choosing teeth.
    changed
        Teeth at which a new version of the design differs; they are ringed.

    Raises
    ------
    ValueError
        If the notation is another word, or the design names a tooth of the other arch.
    """
    shown = _arch_input(design, changed)
    if shown is None:
        return SafeString("")
    svg = _svg(
        shown,
        size,
        notation,
        _words(get_language()),
        in_hand=in_hand,
        detailed=detailed,
        every_tooth=every_tooth,
    )
    return mark_safe(svg)  # noqa: S308 - to_svg escapes its only texts, the labels and the title


@register.simple_tag
def tooth(fdi: int, notation: str = "fdi") -> str:
    """Write one tooth in the reader's numbering.

    Raises
    ------
    ValueError
        If there is no such tooth or numbering.
    """
    return from_fdi(fdi, notation)


@register.simple_tag
def relabel(text: str, subject: str, notation: str, milk: Collection[int]) -> str:
    """Write the teeth of a check's subject in the reader's numbering wherever a text names it,
    places in ``milk`` as the milk teeth that stand there."""
    return toothwords.relabel(text, subject, notation, milk)


@register.filter
def for_reader(text: str, notation: str) -> str:
    """Write the teeth of a question, kept as "44 (FDI)", in the reader's numbering."""
    return toothwords.for_reader(_(text) if text else "", notation)


@register.simple_tag
def wire_of(wires: Mapping[int, Any], fdi: int) -> Any:
    """Return what is said of the clasp on a tooth, or None."""
    return wires.get(fdi)


@register.simple_tag
def clasp_chart(forecast: ClaspForecast, fdi: int) -> SafeString:
    """Draw force against arm length for this wire and its neighbours, the chosen point marked."""
    svg = chart_svg(force_chart(forecast), ident=f"chart-{fdi}")
    return mark_safe(svg)  # noqa: S308 - to_svg escapes its texts
