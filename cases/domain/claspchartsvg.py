"""The chart of force against arm length as inline SVG: classes and attributes, no ``style``.

Ink is ``currentColor``, so the picture is legible without a style sheet and in both themes. The
three wires differ in their strokes and bear their names; colour says nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from html import escape
from itertools import chain
from math import floor
from typing import Final

from cases.domain.claspchart import ForceChart, Place, Point, tick_step
from cases.domain.claspforecast import INDICATIVE, say_band
from cases.domain.words import gettext as _

# The picture in px, and what its frame leaves for the names around it.
WIDTH: Final = 420
HEIGHT: Final = 344
_LEFT, _RIGHT, _TOP, _BOTTOM = 46, 78, 34, 72
_TEXT_PX: Final = 14
_LINE_PX: Final = 16

_STROKES: Final[dict[Place, str]] = {
    "thinner": 'stroke-width="2" stroke-dasharray="1 5" stroke-linecap="round"',
    "chosen": 'stroke-width="3"',
    "thicker": 'stroke-width="2" stroke-dasharray="9 5"',
}


def _x(chart: ForceChart, arm_mm: float) -> float:
    span = chart.arm_mm.high - chart.arm_mm.low
    return _LEFT + (WIDTH - _LEFT - _RIGHT) * (arm_mm - chart.arm_mm.low) / span


def _y(chart: ForceChart, force_n: float) -> float:
    bottom = HEIGHT - _BOTTOM
    return bottom - (bottom - _TOP) * force_n / chart.force_n.high


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _path(chart: ForceChart, points: Iterable[Point], close_at: str = "") -> str:
    steps = [f"{_px(_x(chart, mm))} {_px(_y(chart, n))}" for mm, n in points]
    return f"M{'L'.join(steps)}{close_at}"


def _text(x: float, y: float, words: str, anchor: str = "start", extra: str = "") -> str:
    return (
        f'<text class="chart-text" fill="currentColor" stroke="none" x="{_px(x)}" y="{_px(y)}"'
        f' text-anchor="{anchor}"{extra}>'
        f"{escape(words)}</text>"
    )


def _ticks(low: float, high: float) -> Iterator[float]:
    step = tick_step(high - low)
    number = floor(low / step)
    while (value := number * step) <= high + step / 1000:
        if value >= low - step / 1000:
            yield value
        number += 1


def _axes(chart: ForceChart) -> Iterator[str]:
    left, right, bottom = _LEFT, WIDTH - _RIGHT, HEIGHT - _BOTTOM
    for newton in _ticks(0, chart.force_n.high):
        y = _px(_y(chart, newton))
        yield f'<path class="chart-grid" stroke-opacity="0.2" d="M{left} {y}H{right}"/>'
        yield _text(left - 7, _y(chart, newton) + 5, f"{newton:g}", "end")
    for mm in _ticks(chart.arm_mm.low, chart.arm_mm.high):
        x = _px(_x(chart, mm))
        yield f'<path class="chart-tick" d="M{x} {bottom}v5"/>'
        yield _text(_x(chart, mm), bottom + 19, f"{mm:g}", "middle")
    yield f'<path class="chart-axis" d="M{left} {_TOP}V{bottom}H{right}"/>'
    yield _text(4, 16, _("Force at the tip, N"))
    yield _text((left + right) / 2, bottom + 38, _("Free arm, mm"), "middle")


def _limits(chart: ForceChart) -> Iterator[str]:
    """The ground on which a wire may stay bent, its edge, and the edge beyond which it will."""
    if not chart.may_stay:
        yield _text(4, HEIGHT - 6, _("Every wire springs back here."))
        return
    corner = f"V{_TOP}H{_LEFT}z"
    yield (
        '<path class="chart-bent" fill="currentColor" fill-opacity="0.09" stroke="none"'
        f' d="{_path(chart, chart.may_stay, corner)}"/>'
    )
    edges = [("chart-may", "", chart.may_stay, _("left of it may stay bent"))]
    if chart.will_stay:
        dash = ' stroke-dasharray="12 4 2 4"'
        edges.append(("chart-will", dash, chart.will_stay, _("left of it will stay bent")))
    for column, (css, dash, points, words) in enumerate(edges):
        stroke = f'class="{css}" stroke-width="1.5"{dash}'
        x = 4 + column * WIDTH / 2
        yield f'<path {stroke} d="{_path(chart, points)}"/>'
        yield f'<path {stroke} d="M{_px(x)} {HEIGHT - 11}h30"/>'
        yield _text(x + 36, HEIGHT - 6, words)


def _curves(chart: ForceChart) -> Iterator[str]:
    for curve in chart.curves:
        if curve.points:
            stroke = f'class="chart-curve chart-{curve.place}" {_STROKES[curve.place]}'
            yield f'<path {stroke} d="{_path(chart, curve.points)}"/>'


def _names(chart: ForceChart) -> Iterator[str]:
    """The name of each wire at the end of its curve, pushed apart where they would overlap."""
    ends = sorted(
        ((_y(chart, curve.points[-1][1]), curve) for curve in chart.curves if curve.points),
        key=lambda end: -end[0],
    )
    lowest = float(HEIGHT - _BOTTOM + _LINE_PX)
    for y, curve in ends:
        lowest = min(y + 5, lowest - _LINE_PX)
        bold = ' font-weight="700"' if curve.place == "chosen" else ""
        yield _text(WIDTH - _RIGHT + 6, lowest, curve.wire.name, extra=bold)


def _chosen(chart: ForceChart) -> Iterator[str]:
    mm, newton = chart.chosen
    x, y = _x(chart, mm), _y(chart, newton)
    low, high = (_px(_y(chart, n)) for n in (chart.chosen_force_n.low, chart.chosen_force_n.high))
    bar = f"M{_px(x - 5)} {low}h10m-5 0V{high}m-5 0h10"
    yield f'<path class="chart-band" stroke-width="2" d="{bar}"/>'
    yield (
        f'<circle class="chart-chosen" cx="{_px(x)}" cy="{_px(y)}" r="5" fill="currentColor"'
        ' stroke="none"/>'
    )
    yield _text(x + 10, y - 8, _("%(force)s N") % {"force": f"{newton:.1f}"})


def describe(chart: ForceChart) -> str:
    """Say what the chart shows, for people who do not see it."""
    forecast = chart.forecast
    others = [
        _("%(wire)s wire %(force)s N") % {"wire": curve.wire.name, "force": f"{curve.at_arm_n:.1f}"}
        for curve in chart.curves
        if curve.place != "chosen"
    ]
    own = next(curve for curve in chart.curves if curve.place == "chosen")
    parts = [
        _("At a free arm of %(arm)s mm and an undercut of %(undercut)s mm: %(wire)s %(force)s N.")
        % {
            "arm": f"{forecast.arm_mm:g}",
            "undercut": f"{forecast.undercut_mm:g}",
            "wire": forecast.wire.name,
            "force": say_band(forecast.force_n),
        }
    ]
    if others:
        parts.append(_("For comparison: %(wires)s.") % {"wires": ", ".join(others)})
    parts.append(
        _("%(wire)s springs back for certain with an arm of %(arm)s mm or more.")
        % {"wire": own.wire.name, "arm": f"{own.springs_from_mm:.1f}"}
    )
    parts.append(_(INDICATIVE))
    return " ".join(parts)


def to_svg(chart: ForceChart, *, ident: str) -> str:
    """Write a chart as an ``<svg>`` element.

    Parameters
    ----------
    chart
        As from ``claspchart.force_chart``.
    ident
        Begins the ids of its title and description; another one for each chart of a page.
    """
    ident = escape(ident)
    title = _("Force against free arm: %(wire)s and its neighbours") % {
        "wire": chart.forecast.wire.label
    }
    body = chain(_limits(chart), _axes(chart), _curves(chart), _chosen(chart), _names(chart))
    return (
        f'<svg class="clasp-chart" role="img" width="{WIDTH}" height="{HEIGHT}"'
        f' viewBox="0 0 {WIDTH} {HEIGHT}" fill="none" stroke="currentColor"'
        f' font-size="{_TEXT_PX}" aria-labelledby="{ident}-title" aria-describedby="{ident}-desc">'
        f'<title id="{ident}-title">{escape(title)}</title>'
        f'<desc id="{ident}-desc">{escape(describe(chart))}</desc>'
        f"{''.join(body)}</svg>"
    )
