"""The chart of force against arm length: what it shows, and how it is drawn."""

from __future__ import annotations

import re
from itertools import pairwise
from xml.etree import ElementTree as ET

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from cases.domain.alloys import ALLOYS
from cases.domain.clasp import shortest_arm_mm, tip_force_n
from cases.domain.claspchart import Curve, ForceChart, force_chart, tick_step
from cases.domain.claspchartsvg import HEIGHT, WIDTH, describe, to_svg
from cases.domain.claspforecast import forecast
from cases.domain.wire import parse_wire

STAINLESS = ALLOYS["stainless"]
SVG = "{http://www.w3.org/2000/svg}"


def _chart(wire: str = "0.9 mm", undercut: float = 0.25, arm: float = 9.5) -> ForceChart:
    return force_chart(
        forecast(wire=parse_wire(wire), alloy=STAINLESS, undercut_mm=undercut, arm_mm=arm)
    )


def _drawn(chart: ForceChart) -> ET.Element:
    text = to_svg(chart, ident="clasp-34")
    return ET.fromstring(text.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))  # noqa: S314 - our own


def _force_at(curve: tuple[tuple[float, float], ...], arm: float) -> float:
    """Read a line of points at one arm, as an eye would."""
    for (x0, y0), (x1, y1) in pairwise(curve):
        if x0 <= arm <= x1:
            return y0 + (y1 - y0) * (arm - x0) / (x1 - x0)
    raise AssertionError(f"{arm} lies outside of the line")


def test_the_chosen_wire_stands_between_its_neighbours() -> None:
    chart = _chart("19 AWG")

    assert [(curve.place, curve.wire.name) for curve in chart.curves] == [
        ("thinner", "20 AWG"),
        ("chosen", "19 AWG"),
        ("thicker", "18 AWG"),
    ]
    thinner, chosen, thicker = (curve.at_arm_n for curve in chart.curves)
    assert chart.chosen == (9.5, chosen)
    assert chosen / thinner == pytest.approx(1.590, abs=6e-4)
    assert thicker / chosen == pytest.approx(1.590, abs=6e-4)


def test_the_end_of_a_table_leaves_one_neighbour() -> None:
    assert [curve.place for curve in _chart("30 SWG").curves] == ["chosen", "thicker"]


def test_every_point_of_a_curve_is_the_force_at_that_arm() -> None:
    for curve in _chart().curves:
        for arm, force in curve.points:
            assert force == pytest.approx(
                tip_force_n(
                    diameter_mm=curve.wire.mm, length_mm=arm, undercut_mm=0.25, modulus_gpa=180
                )
            )


@pytest.mark.parametrize(
    ("line", "modulus", "strength"), [("may_stay", 200, 1100), ("will_stay", 160, 1760)]
)
def test_the_limits_meet_each_curve_at_its_shortest_arm(
    line: str, modulus: float, strength: float
) -> None:
    chart = _chart("1.0 mm", 0.5, 10)
    met = 0
    for curve in chart.curves:
        shortest = shortest_arm_mm(
            diameter_mm=curve.wire.mm, undercut_mm=0.5, modulus_gpa=modulus, yield_mpa=strength
        )
        force = tip_force_n(
            diameter_mm=curve.wire.mm, length_mm=shortest, undercut_mm=0.5, modulus_gpa=180
        )
        points = getattr(chart, line)
        if points[0][0] <= shortest <= points[-1][0]:
            met += 1
            assert _force_at(points, shortest) == pytest.approx(force, rel=0.01)
    assert met == 3


def test_a_curve_knows_from_where_its_wire_springs_back() -> None:
    chosen = _chart().curves[1]

    assert chosen.springs_from_mm == pytest.approx(
        shortest_arm_mm(diameter_mm=0.9, undercut_mm=0.25, modulus_gpa=200, yield_mpa=1100)
    )


def test_without_an_undercut_there_is_neither_force_nor_limit() -> None:
    chart = _chart(undercut=0)

    assert chart.chosen == (9.5, 0)
    assert (chart.may_stay, chart.will_stay) == ((), ())
    assert "Every wire springs back here." in to_svg(chart, ident="c")


@given(
    st.sampled_from(["0.3 mm", "0.9 mm", "19 AWG", "30 SWG", "6 AWG"]),
    st.floats(0, 1.5),
    st.floats(0.5, 40),
    st.sampled_from(sorted(ALLOYS)),
)
@example("0.3 mm", 1e-300, 1.0, "stainless")
@example("0.3 mm", 5e-324, 40.0, "stainless")
@example("6 AWG", 1.5, 0.5, "stainless-softened")
def test_everything_lies_in_the_picture(wire: str, undercut: float, arm: float, alloy: str) -> None:
    chart = force_chart(
        forecast(wire=parse_wire(wire), alloy=ALLOYS[alloy], undercut_mm=undercut, arm_mm=arm)
    )

    lines = [curve.points for curve in chart.curves] + [chart.may_stay, chart.will_stay]
    slack = chart.force_n.high * 1e-6
    for mm, newton in [point for line in lines for point in line] + [chart.chosen]:
        assert chart.arm_mm.low - 1e-6 <= mm <= chart.arm_mm.high + 1e-6
        assert -slack <= newton <= chart.force_n.high + slack
    assert chart.chosen_force_n.high <= chart.force_n.high
    assert len(_chosen(chart).points) > 1
    numbers = re.findall(r'(?:x|cx)="([-\d.]+)" (?:y|cy)="([-\d.]+)"', to_svg(chart, ident="c"))
    for x, y in numbers:
        assert 0 <= float(x) <= WIDTH
        assert 0 <= float(y) <= HEIGHT


def _chosen(chart: ForceChart) -> Curve:
    return next(curve for curve in chart.curves if curve.place == "chosen")


@pytest.mark.parametrize(
    ("span", "step"), [(14, 2), (8, 2), (20, 5), (1, 0.2), (0.3, 0.1), (100, 20), (1500, 500)]
)
def test_marks_of_an_axis_stand_at_round_numbers(span: float, step: float) -> None:
    assert tick_step(span) == pytest.approx(step)


def test_the_drawing_is_named_and_described() -> None:
    chart = _chart()
    root = _drawn(chart)

    assert root.get("role") == "img"
    titles = {root.find(f"{SVG}title").get("id"), root.find(f"{SVG}desc").get("id")}  # type: ignore[union-attr]
    assert {root.get("aria-labelledby"), root.get("aria-describedby")} == titles
    assert root.findtext(f"{SVG}desc") == describe(chart)
    assert describe(chart) == (
        "At a free arm of 9.5 mm and an undercut of 0.25 mm: 0.9 mm 4.5 to 5.6 N. "
        "For comparison: 0.8 mm wire 3.2 N, 1.0 mm wire 7.7 N. "
        "0.9 mm springs back for certain with an arm of 7.8 mm or more. "
        "Indicative: reckoned as a straight beam. A bent arm is partly stiffer."
    )


def test_the_wires_differ_in_stroke_and_bear_their_names() -> None:
    root = _drawn(_chart("18 AWG", 0.508, 10))
    curves = [path for path in root.iter(f"{SVG}path") if "chart-curve" in path.get("class", "")]
    strokes = {(path.get("stroke-width"), path.get("stroke-dasharray")) for path in curves}
    words = {text.text for text in root.iter(f"{SVG}text")}

    assert len(curves) == len(strokes) == 3
    assert {"19 AWG", "18 AWG", "17 AWG", "Free arm, mm", "Force at the tip, N"} <= words
    assert {"left of it may stay bent", "left of it will stay bent"} <= words


@pytest.mark.parametrize("undercut", [0, 0.25])
def test_names_at_the_ends_never_overlap(undercut: float) -> None:
    root = _drawn(_chart(undercut=undercut))
    ends = sorted(
        float(text.get("y", "0"))
        for text in root.iter(f"{SVG}text")
        if re.fullmatch(r"[\d.]+ mm", text.text or "")
    )

    assert len(ends) == 3
    assert min(below - above for above, below in pairwise(ends)) >= 15.9


def test_the_drawing_needs_no_style_and_escapes_what_it_is_given() -> None:
    drawn = to_svg(_chart(), ident='"><script>')

    assert "style" not in drawn
    assert "<script" not in drawn


def test_a_tapered_wire_is_drawn_as_it_is_reckoned() -> None:
    found = forecast(
        wire=parse_wire("0.9 mm"), alloy=ALLOYS["stainless"], undercut_mm=0.25, arm_mm=9.5,
        tip_share=0.5,
    )  # fmt: skip
    chart = force_chart(found)

    assert chart.chosen[1] == pytest.approx(found.force_n.middle)
    assert _chosen(chart).springs_from_mm == pytest.approx(found.shortest_arm_mm.high)
    # Where the chosen wire just springs back for certain, its curve meets the limit.
    arm = found.shortest_arm_mm.high
    at = dict(chart.may_stay)
    near = min(at, key=lambda mm: abs(mm - arm))
    softer = forecast(
        wire=parse_wire("0.9 mm"), alloy=ALLOYS["stainless"], undercut_mm=0.25, arm_mm=arm,
        tip_share=0.5,
    )  # fmt: skip
    assert at[near] == pytest.approx(softer.force_n.middle * (near / arm) ** 5)
