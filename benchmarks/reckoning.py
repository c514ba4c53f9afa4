"""Measure what the domain reckons: a design, a list of drawings. By ``make bench``.

Prints medians and ratios against a baseline in the same run, in processor time: nothing here waits
for anything. Never a test: a busy machine is slow, not wrong. What was measured: docs/speed.md.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

AIM_MS, AIM_LIST = 20.0, 2.0
"""Wished for: advice, class, route and drawing of one design; what drawings add to a list."""
RUNS, LISTED = 30, 100

ROW = """{% load arch i18n %}{% for case in cases %}<tr><td>{% if arches %}{% arch case.design %}
{% endif %}</td><th scope="row">{{ case.number }}</th><td>{{ case.practice }}</td><td>{{ case.ref }}
</td><td>{% translate "Waits" %}</td><td>{{ case.leaves|date:"D j M" }}</td></tr>{% endfor %}"""


def say(words: str) -> None:
    """Print a line at once."""
    print(words, flush=True)  # noqa: T201 - a command that prints


def middle(work: Callable[[], object], runs: int = RUNS) -> float:
    """Return the middle time of some runs, in ms of this process: others on the machine wait."""
    times = []
    for _ in range(runs):
        began = time.process_time()
        work()
        times.append((time.process_time() - began) * 1000)
    return median(times)


def one_design() -> None:
    """Measure class, rules, route and drawing of one design with many findings."""
    from cases.domain.archdrawing import draw
    from cases.domain.archform import ArchInput
    from cases.domain.archsvg import to_svg
    from cases.domain.design import Clasp, Design, WorkOrder
    from cases.domain.design_parts import Survey, Undercut
    from cases.domain.design_review import review
    from cases.domain.route import default_template, grow
    from cases.domain.rule_facts import Facts

    gone = frozenset({35, 36, 37, 45, 46, 47})
    found = tuple(
        Undercut(tooth, side, 0.5) for tooth in (44, 43, 33, 34) for side in ("distal", "lingual")
    )
    design = Design(
        arch="lower", missing=gone, replaced=gone, bar=True, method="plaster",
        clasps=tuple(Clasp(t, 0.9, 0.25, 9.0, bracing="plate", bracing_mm=1.0) for t in (34, 44)),
        survey=Survey(tilt_deg=0.0, marked=True, undercuts=found),
    )  # fmt: skip
    template, order = default_template(), WorkOrder()
    parts: dict[str, Callable[[], object]] = {
        "rules and block-out advice": lambda: review(Facts(design)),
        "class": lambda: Facts(design).kennedy,
        "route and checks": lambda: grow(template, order, design),
        "drawing": lambda: to_svg(
            draw.__wrapped__(ArchInput.from_design(design), size=420), title="lower arch"
        ),
    }
    bare = middle(lambda: Design.from_json(design.to_json()))
    total = 0.0
    say(f"one design; reading and writing it takes {bare:.2f} ms")
    for name, work in parts.items():
        took = middle(work)
        total += took
        say(f"  {name:28} {took:6.2f} ms  {took / bare:5.1f} x")
    say(f"  {'together':28} {total:6.2f} ms  {total / bare:5.1f} x (aim {AIM_MS:g} ms)")


def many_drawings() -> None:
    """Measure a list of cases with and without the drawing of each."""
    from datetime import date

    from django.template import engines

    from cases.domain.archdrawing import draw
    from cases.domain.design import Clasp, Design
    from cases.domain.teeth import teeth_of_arch
    from cases.templatetags import arch as tag

    row = [tooth for tooth in teeth_of_arch("lower") if tooth % 10 not in (3, 8)]
    gaps = list(combinations(row, 3))[:: len(list(combinations(row, 3))) // LISTED][:LISTED]
    base = Design(arch="lower", clasps=(Clasp(33), Clasp(43)))
    cases = [
        {
            "number": f"26-{place:04}-K", "practice": "Practice at the quay", "ref": f"Q-{place}",
            "leaves": date(2026, 11, 25),
            "design": replace(base, missing=frozenset(gap), replaced=frozenset(gap)),
        }
        for place, gap in enumerate(gaps)
    ]  # fmt: skip
    template = engines["django"].from_string(ROW)

    def without() -> str:
        return template.render({"cases": cases, "arches": False})

    def with_drawings() -> str:
        return template.render({"cases": cases, "arches": True})

    def for_the_first_time() -> str:
        draw.cache_clear()
        tag._svg.cache_clear()
        tag._input_of.cache_clear()
        return with_drawings()

    bare = middle(without)
    say(f"a list of {len(cases)} cases without drawings takes {bare:.1f} ms")
    first, later = middle(for_the_first_time, 15), middle(with_drawings)
    adds = (later - bare) / bare
    say(f"  drawings add                 {later - bare:6.1f} ms  {adds:5.1f} x (aim {AIM_LIST:g})")
    say(f"  drawn for the first time     {first - bare:6.1f} ms  {(first - bare) / bare:5.1f} x")


def main() -> None:
    """Run both."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labflow.settings")
    import django

    django.setup()
    one_design()
    many_drawings()


if __name__ == "__main__":
    main()
