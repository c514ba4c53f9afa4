"""Measure what the domain reckons of a design. By ``make bench``.

Prints medians and ratios against a baseline in the same run, in processor time: nothing here waits
for anything. Never a test: a busy machine is slow, not wrong. What was measured: docs/speed.md.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from statistics import median

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

AIM_MS = 20.0
"""Wished for: advice, class, route and drawing of one design."""
RUNS = 30


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


def main() -> None:
    """Set Django up and measure."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labflow.settings")
    import django

    django.setup()
    one_design()


if __name__ == "__main__":
    main()
