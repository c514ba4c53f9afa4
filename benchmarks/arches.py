"""Measure what the drawings of a list add to it, for the first time in a process and again.

By ``make bench``. Each run is a process of its own, so that nothing is there from before; medians
of several, in processor time. Never a test. What was measured: docs/speed.md.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from itertools import combinations
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from benchmarks.reckoning import say

if TYPE_CHECKING:
    from cases.domain.design import Design

AIM_LIST = 2.0
"""Wished for: what drawings add to a list, times the list without them."""
RUNS, AGAIN, LISTED = 9, 9, 100

ROW = """{% load arch i18n %}{% for case in cases %}<tr><td>{% if arches %}{% arch case.design %}
{% endif %}</td><th scope="row">{{ case.number }}</th><td>{{ case.practice }}</td><td>{{ case.ref }}
</td><td>{% translate "Waits" %}</td><td>{{ case.leaves|date:"D j M" }}</td></tr>{% endfor %}"""


def designs() -> Iterator[Design]:
    """Yield designs that all differ: three teeth replaced, two clasps."""
    from cases.domain.design import Clasp, Design
    from cases.domain.teeth import teeth_of_arch

    row = [tooth for tooth in teeth_of_arch("lower") if tooth % 10 not in (3, 8)]
    gaps = list(combinations(row, 3))
    for gap in gaps[:: len(gaps) // LISTED][:LISTED]:
        gone = frozenset(gap)
        yield Design(arch="lower", clasps=(Clasp(33), Clasp(43)), missing=gone, replaced=gone)


def fill_lab() -> None:
    """Make a lab whose open cases each have a design of their own."""
    from django.core.management import call_command
    from django.utils import timezone

    from benchmarks.fill import fill, first_cases
    from cases.models import Case, Design
    from tests.factories import make_shop

    call_command("migrate", verbosity=0)
    now = timezone.now()
    shop = make_shop(now)
    sources = first_cases(shop, now)
    fill(sources, open_cases=LISTED - len(sources), finished=0, now=now, serial=len(sources))
    for case, design in zip(Case.objects.order_by("pk"), designs(), strict=True):
        data = {**design.to_json(), "arch": case.arch}
        case.design = Design.objects.create(case=case, version=50, data=data, made_at=now)
        case.save(update_fields=["design"])


def _took(work: Callable[[], object]) -> float:
    began = time.process_time()
    work()
    return (time.process_time() - began) * 1000


def _adds(bare: Callable[[], object], drawn: Callable[[], object]) -> dict[str, float]:
    """Return ms of the page without drawings, and what they add at first and again."""
    bare()
    without = median(_took(bare) for _ in range(AGAIN))
    first = _took(drawn)
    again = median(_took(drawn) for _ in range(AGAIN))
    return {"without": without, "first": first - without, "again": again - without}


def one_run(what: str) -> dict[str, float]:
    """Measure a bare list of designs, the same of rows, or the page of the open cases."""
    from datetime import date

    from django.template import engines
    from django.test import Client

    from cases import models
    from cases.templatetags import arch as tag

    if what == "page":
        desk = Client(HTTP_HOST="localhost")
        desk.force_login(models.Person.objects.get(name="Noor").user)  # type: ignore[arg-type]
        draws = tag._arch_input

        def page(*, arches: bool) -> None:
            tag._arch_input = draws if arches else lambda *_: None
            answer = desk.get("/desk/")
            if (b'class="arch"' in answer.content) is not arches:
                raise SystemExit("The page does not show what is measured.")

        return _adds(lambda: page(arches=False), lambda: page(arches=True))
    cases: list[dict[str, Any]] = [
        {
            "number": f"26-{place:04}-K", "practice": "Practice at the quay", "ref": f"Q-{place}",
            "leaves": date(2026, 11, 25),
            "design": models.Design(data=design.to_json()) if what == "rows" else design,
        }
        for place, design in enumerate(designs())
    ]  # fmt: skip
    template = engines["django"].from_string(ROW)
    return _adds(
        lambda: template.render({"cases": cases, "arches": False}),
        lambda: template.render({"cases": cases, "arches": True}),
    )


def main() -> None:
    """Measure each list in processes of its own, or one of them once."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labflow.settings")
    if len(sys.argv) > 1:
        import django

        django.setup()
        say(json.dumps(one_run(sys.argv[1])))
        return
    from benchmarks.pages import scratch

    words = {
        "designs": f"{LISTED} bare rows", "rows": f"{LISTED} bare rows, read from the database",
        "page": "the page of the open cases",
    }  # fmt: skip
    say(f"a list without drawings, and what they add; {RUNS} processes each (aim {AIM_LIST:g} x)")
    with scratch():
        fill_lab()
        for what, name in words.items():
            again_by_itself = [sys.executable, __file__, what]
            runs = [
                json.loads(subprocess.check_output(again_by_itself, text=True))  # noqa: S603 - ours
                for _ in range(RUNS)
            ]
            without = median(run["without"] for run in runs)
            first, again = (
                median(run[key] / run["without"] for run in runs) for key in ("first", "again")
            )
            say(f"  {name:40} {without:6.1f} ms; first {first:4.1f} x, again {again:4.1f} x")


if __name__ == "__main__":
    main()
