"""The drawing of an arch in one sentence, for people who do not see it."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Final

from cases.domain import teeth
from cases.domain.archform import ArchInput, order_of


@dataclass(frozen=True, slots=True)
class TitleWords:
    """The parts of the sentence; a screen passes them in the reader's language."""

    upper: str = "Upper arch"
    lower: str = "Lower arch"
    nothing_replaced: str = "no teeth replaced"
    replaced: str = "{teeth} replaced"
    missing: str = "{teeth} missing and not replaced"
    extracted: str = "{teeth} to be extracted"
    milk: str = "milk tooth {teeth}"
    milks: str = "milk teeth {teeth}"
    clasp: str = "clasp on {teeth}"
    clasps: str = "clasps on {teeth}"
    rest: str = "rest on {teeth}"
    rests: str = "rests on {teeth}"
    bar: str = "bar"
    in_hand: str = "turned as the cast in the hand"
    span: str = "{first} to {last}"
    listed: str = "{most} and {last}"
    sentence: str = "{arch}: {parts}"
    comma: str = ", "


ENGLISH: Final = TitleWords()


def spans(numbers: Collection[int], arch: str) -> tuple[tuple[int, ...], ...]:
    """Group teeth into runs of neighbours, each in the order in which one reads it.

    Parameters
    ----------
    numbers
        FDI numbers of one arch.
    arch
        ``"upper"`` or ``"lower"``.

    Returns
    -------
    tuple of tuples
        On one side of the mouth a run counts backwards from the front; across the midline it goes
        from the patient's right to the left. The runs follow their first FDI numbers.
    """
    runs: list[list[int]] = []
    previous: int | None = None
    order = order_of(arch)
    for fdi in sorted(order.keys() & numbers, key=order.__getitem__):
        if previous == order[fdi] - 1:
            runs[-1].append(fdi)
        else:
            runs.append([fdi])
        previous = order[fdi]
    for run in runs:
        if run[0] // 10 == run[-1] // 10:
            run.sort()
    return tuple(tuple(run) for run in sorted(runs, key=min))


def say_teeth(
    numbers: Collection[int],
    arch: str,
    notation: str,
    words: TitleWords = ENGLISH,
    milk: Collection[int] = (),
) -> str:
    """Say a set of teeth, like "34 to 37, 45 and 46"; places in ``milk`` as their milk teeth.

    Raises
    ------
    ValueError
        If there is no such arch or notation.
    """
    names: list[str] = []
    # A run is of permanent or of milk teeth.
    groups = ([n for n in numbers if n not in milk], [n for n in numbers if n in milk])
    for run in (run for group in groups for run in spans(group, arch)):
        labels = [
            teeth.label(teeth.primary_before(fdi) if fdi in milk else fdi, notation) for fdi in run
        ]
        if len(labels) > 2:
            names.append(words.span.format(first=labels[0], last=labels[-1]))
        else:
            names += labels
    if len(names) < 2:
        return "".join(names)
    return words.listed.format(most=words.comma.join(names[:-1]), last=names[-1])


def say_arch(
    design: ArchInput,
    *,
    notation: str = "fdi",
    in_hand: bool = False,
    words: TitleWords = ENGLISH,
) -> str:
    """Say what a drawing shows, like "Lower arch: 45 to 47 replaced, clasps on 33 and 44, bar".

    A missing third molar that is not replaced is not drawn, and not said.

    Raises
    ------
    ValueError
        If ``notation`` is not a tooth numbering system.
    """

    def said(numbers: Collection[int], one: str, several: str | None = None) -> list[str]:
        if not numbers:
            return []
        pattern = several if several and len(numbers) > 1 else one
        named = say_teeth(numbers, design.arch, notation, words, design.primary)
        return [pattern.format(teeth=named)]

    gaps = [
        fdi
        for fdi in design.missing
        if fdi not in design.replaced and not teeth.is_third_molar(fdi)
    ]
    clasped = [fdi for fdi, _ in design.clasp_origins]
    parts = said(design.replaced, words.replaced) or [words.nothing_replaced]
    parts += said(gaps, words.missing)
    parts += said(design.extracted, words.extracted)
    parts += said(design.primary, words.milk, words.milks)
    parts += said(clasped, words.clasp, words.clasps)
    parts += said(design.rests, words.rest, words.rests)
    if design.bar:
        parts.append(words.bar)
    if in_hand:
        parts.append(words.in_hand)
    arch = words.upper if design.arch == "upper" else words.lower
    return words.sentence.format(arch=arch, parts=words.comma.join(parts))
