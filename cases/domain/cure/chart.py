"""The chart of a bath's record as inline SVG: program, record, stages and gaps.

Ink is ``currentColor``, so it is legible without a style sheet and in both themes. The program is
dashed, the record solid, a stage a pale band at its temperature, a gap hatched by its edges; what
was before the load was in its bath and after is pale.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from html import escape
from itertools import chain, pairwise
from math import ceil, floor
from typing import Final

import numpy as np

from cases.domain.cure.quality import NEAR_K
from cases.domain.cure.samples import Points, Samples
from cases.domain.words import gettext as _

MOST_POINTS: Final = 600
WIDTH: Final = 640
HEIGHT: Final = 360
_LEFT, _RIGHT, _TOP, _BOTTOM = 44, 14, 30, 74
_TEXT_PX: Final = 14
_HOUR_STEPS: Final = (0.25, 0.5, 1.0, 2.0, 3.0, 6.0, 12.0, 24.0, 48.0)
_TABLE_ROWS: Final = 12


@dataclass(frozen=True, slots=True)
class Stretch:
    """Where a stage of the program lay in the record: seconds, and its temperature."""

    number: int
    celsius: float
    from_s: float
    until_s: float


@dataclass(frozen=True, slots=True)
class BathChart:
    """What is drawn. All instants are seconds of the record.

    Attributes
    ----------
    points
        The record, thinned.
    program
        Seconds and °C, already moved to where the load began.
    stretches
        The stages that the record reached.
    gaps
        From when until when there was no reading.
    window
        From when until when the load was in its bath: what lies outside is left out of the
        verdict, and pale. None for records that were kept before that was stored.
    """

    points: Points
    program: Points
    stretches: tuple[Stretch, ...] = ()
    gaps: Points = ()
    window: tuple[float, float] | None = None

    @property
    def span_s(self) -> tuple[float, float]:
        """First and last instant of what is drawn."""
        instants = [s for s, _c in (*self.points, *self.program)]
        return min(instants), max(instants)

    @property
    def outside(self) -> list[tuple[float, float]]:
        """Return from when until when the load was not in its bath, of what is drawn."""
        if self.window is None:
            return []
        first, last = self.span_s
        return [
            (since, until)
            for since, until in ((first, self.window[0]), (self.window[1], last))
            if since < until
        ]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the chart as a table; None where there is no value."""

    second: float
    program: float | None
    record: float | None


def thinned(samples: Samples, most: int = MOST_POINTS) -> list[tuple[float, float]]:
    """Return a record with few enough points to draw: of each stretch its coldest and hottest.

    The first and the last reading stay, and no peak is lost.
    """
    count = len(samples.seconds)
    if count <= most:
        keep = np.arange(count)
    else:
        edges = np.linspace(0, count, (most - 2) // 2 + 1).astype(int)
        found = {0, count - 1}
        for begin, end in pairwise(edges.tolist()):
            part = samples.celsius[begin:end]
            found |= {begin + int(part.argmin()), begin + int(part.argmax())}
        keep = np.array(sorted(found))
    seconds, celsius = samples.seconds[keep].round(1), samples.celsius[keep].round(2)
    return list(zip(seconds.tolist(), celsius.tolist(), strict=True))


def _value(points: Points, second: float) -> float | None:
    seconds, celsius = zip(*points, strict=True)
    if not seconds[0] <= second <= seconds[-1]:
        return None
    return float(np.interp(second, seconds, celsius))


def lines(chart: BathChart) -> tuple[Line, ...]:
    """Return the chart as a table: even steps of time, and where each stage began and ended."""
    low, high = chart.span_s
    step = next((s for s in _HOUR_STEPS if (high - low) / 3600 / s <= _TABLE_ROWS), 72.0) * 3600
    instants = set(np.arange(low, high, step).round().tolist()) | {round(high)}
    for stretch in chart.stretches:
        instants |= {round(stretch.from_s), round(stretch.until_s)}
    return tuple(
        Line(second, _value(chart.program, second), _seen(chart, second))
        for second in sorted(instants)
    )


def _seen(chart: BathChart, second: float) -> float | None:
    if any(since < second < until for since, until in chart.gaps):
        return None
    return _value(chart.points, second)


def _scale(chart: BathChart) -> tuple[float, float]:
    heats = [c for _s, c in (*chart.points, *chart.program)]
    return 20.0 * floor(min(*heats, 20.0) / 20), 20.0 * ceil((max(heats) + 2) / 20)


def _x(chart: BathChart, second: float) -> float:
    low, high = chart.span_s
    return _LEFT + (WIDTH - _LEFT - _RIGHT) * (second - low) / (high - low)


def _y(chart: BathChart, celsius: float) -> float:
    low, high = _scale(chart)
    bottom = HEIGHT - _BOTTOM
    return bottom - (bottom - _TOP) * (celsius - low) / (high - low)


def _px(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _text(x: float, y: float, words: str, anchor: str = "start") -> str:
    return (
        f'<text class="chart-text" fill="currentColor" stroke="none" x="{_px(x)}" y="{_px(y)}"'
        f' text-anchor="{anchor}">{escape(words)}</text>'
    )


def _path(chart: BathChart, points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{_px(_x(chart, s))} {_px(_y(chart, c))}" for s, c in points)


def _axes(chart: BathChart) -> Iterator[str]:
    left, right, bottom = _LEFT, WIDTH - _RIGHT, HEIGHT - _BOTTOM
    low, high = _scale(chart)
    for celsius in range(int(low), int(high) + 1, 20):
        y = _y(chart, celsius)
        yield f'<path class="chart-grid" stroke-opacity="0.2" d="M{left} {_px(y)}H{right}"/>'
        yield _text(left - 6, y + 5, f"{celsius}", "end")
    since, until = chart.span_s
    hours = (until - since) / 3600
    step = next((s for s in _HOUR_STEPS if hours / s <= 10), 96.0)
    for n in range(floor(hours / step) + 1):
        x = _x(chart, since + n * step * 3600)
        yield f'<path class="chart-tick" d="M{_px(x)} {bottom}v5"/>'
        yield _text(x, bottom + 20, f"{n * step:g}", "middle")
    yield f'<path class="chart-axis" d="M{left} {_TOP}V{bottom}H{right}"/>'
    yield _text(4, 16, _("Bath, °C"))
    yield _text((left + right) / 2, bottom + 40, _("Hours from the first instant"), "middle")


def _bands(chart: BathChart) -> Iterator[str]:
    for part in chart.stretches:
        x, y = _x(chart, part.from_s), _y(chart, part.celsius + NEAR_K)
        wide = max(1.0, _x(chart, part.until_s) - x)
        high = _y(chart, part.celsius - NEAR_K) - y
        yield (
            '<rect class="chart-stage" fill="currentColor" fill-opacity="0.14" stroke="none"'
            f' x="{_px(x)}" y="{_px(y)}" width="{_px(wide)}" height="{_px(high)}"/>'
        )
        yield _text(x + 2, y - 5, _("stage %(number)d") % {"number": part.number})
    bottom = HEIGHT - _BOTTOM
    for since, until in chart.gaps:
        left, right = _px(_x(chart, since)), _px(_x(chart, until))
        yield (
            '<path class="chart-gap" stroke-dasharray="2 4" fill="currentColor"'
            f' fill-opacity="0.06" d="M{left} {_TOP}V{bottom}H{right}V{_TOP}"/>'
        )


def _left_out(chart: BathChart) -> Iterator[str]:
    if chart.window is None:
        return
    first, last = chart.span_s
    bottom = HEIGHT - _BOTTOM
    for since, until in chart.outside:
        left, right = _px(_x(chart, since)), _px(_x(chart, until))
        yield (
            '<path class="chart-outside" stroke="none" fill="currentColor" fill-opacity="0.08"'
            f' d="M{left} {_TOP}V{bottom}H{right}V{_TOP}Z"/>'
        )
    for second in chart.window:
        if first < second < last:
            yield (
                '<path class="chart-window" stroke-opacity="0.6" stroke-dasharray="1 3"'
                f' d="M{_px(_x(chart, second))} {_TOP}V{bottom}"/>'
            )


def _curves(chart: BathChart) -> Iterator[str]:
    program = _path(chart, chart.program)
    yield f'<path class="chart-program" stroke-width="1.5" stroke-dasharray="8 5" d="{program}"/>'
    part: list[tuple[float, float]] = []
    starts = {round(since, 1) for since, _until in chart.gaps}
    for point in chart.points:
        part.append(point)
        if round(point[0], 1) in starts:
            yield _record(chart, part)
            part = []
    if part:
        yield _record(chart, part)


def _record(chart: BathChart, part: Sequence[tuple[float, float]]) -> str:
    return f'<path class="chart-record" stroke-width="2.5" d="{_path(chart, part)}"/>'


def _legend() -> Iterator[str]:
    y = HEIGHT - 8
    yield f'<path class="chart-record" stroke-width="2.5" d="M8 {y - 5}h34"/>'
    yield _text(48, y, _("record"))
    yield f'<path class="chart-program" stroke-width="1.5" stroke-dasharray="8 5" d="M148 {y - 5}h34"/>'  # noqa: E501
    yield _text(188, y, _("program"))


def describe(chart: BathChart) -> str:
    """Say what the chart shows, for people who do not see it."""
    heats = [c for _s, c in chart.points]
    told = [
        _("The record lasts %(hours)s h, from %(low)s °C at its coldest to %(high)s °C.")
        % {
            "hours": f"{(chart.points[-1][0] - chart.points[0][0]) / 3600:.1f}",
            "low": f"{min(heats):.0f}",
            "high": f"{max(heats):.0f}",
        }
    ]
    told += [
        _("Stage %(number)d, %(celsius)s °C: from %(since)s h to %(until)s h.")
        % {
            "number": part.number,
            "celsius": f"{part.celsius:.0f}",
            "since": f"{(part.from_s - chart.span_s[0]) / 3600:.1f}",
            "until": f"{(part.until_s - chart.span_s[0]) / 3600:.1f}",
        }
        for part in chart.stretches
    ]
    if chart.window is not None:
        told.append(
            _(
                "The load was in its bath from %(since)s h to %(until)s h. What lies outside is "
                "left out of the verdict."
            )
            % {
                "since": f"{(chart.window[0] - chart.span_s[0]) / 3600:.1f}",
                "until": f"{(chart.window[1] - chart.span_s[0]) / 3600:.1f}",
            }
        )
    if chart.gaps:
        told.append(_("Where a band is dotted there are no readings."))
    return " ".join(told)


def to_svg(chart: BathChart, *, ident: str) -> str:
    """Write a chart as an ``<svg>`` element.

    Parameters
    ----------
    ident
        Begins the ids of its title and description; another one for each chart of a page.
    """
    ident = escape(ident)
    # Apart from the f-string: what collects the words does not look into one.
    title = escape(_("Temperature of the bath against its program"))
    body = chain(_left_out(chart), _bands(chart), _axes(chart), _curves(chart), _legend())
    return (
        f'<svg class="bath-chart" role="img" width="{WIDTH}" height="{HEIGHT}"'
        f' viewBox="0 0 {WIDTH} {HEIGHT}" fill="none" stroke="currentColor"'
        f' font-size="{_TEXT_PX}" aria-labelledby="{ident}-title" aria-describedby="{ident}-desc">'
        f'<title id="{ident}-title">{title}</title>'
        f'<desc id="{ident}-desc">{escape(describe(chart))}</desc>{"".join(body)}</svg>'
    )
