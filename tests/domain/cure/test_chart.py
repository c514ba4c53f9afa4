"""What the chart of a bath's record leaves out."""

from __future__ import annotations

import pytest

from cases.domain.cure.chart import BathChart, to_svg

RECORD = ((0.0, 20.0), (3600.0, 74.0), (7200.0, 74.0))


@pytest.mark.parametrize(
    ("window", "outside"),
    [
        (None, []),
        ((0.0, 7200.0), []),
        ((600.0, 7200.0), [(0.0, 600.0)]),
        ((600.0, 6000.0), [(0.0, 600.0), (6000.0, 7200.0)]),
    ],
)
def test_only_what_lies_outside_the_load_is_shaded(
    window: tuple[float, float] | None, outside: list[tuple[float, float]]
) -> None:
    chart = BathChart(RECORD, RECORD, window=window)

    assert chart.outside == outside
    assert to_svg(chart, ident="c").count('class="chart-outside"') == len(outside)
