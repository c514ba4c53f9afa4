"""Measure the open-cases page, the bench page and a tick. Run it by ``make bench``.

Prints times and ratios, the median of several runs, on a scratch database that is removed
afterwards: on SQLite, or on the PostgreSQL of ``LABFLOW_DATABASE``. Never a test: a busy machine
is slow, not wrong.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING, Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

if TYPE_CHECKING:
    from datetime import datetime

    from django.test import Client

    from tests.factories import Shop

AIM_BARE, AIM_GROWTH, AIM_TICK = 3.0, 2.0, 100.0
"""Wished for: times the bare view, times the small house, milliseconds (PostgreSQL)."""
IDLE_FOR_THE_MEASUREMENT = 24 * 60  # minutes; no tablet may lock meanwhile


@contextmanager
def scratch() -> Iterator[None]:
    """Set up Django on a new folder, so that nobody's data is touched."""
    with tempfile.TemporaryDirectory() as folder:
        os.environ["LABFLOW_VAR"] = folder
        os.environ["DJANGO_SETTINGS_MODULE"] = "labflow.settings"
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        yield


def say(words: str) -> None:
    """Print a line at once: a run takes minutes."""
    print(words, flush=True)  # noqa: T201 - a command that prints


def browsers(shop: Shop, now: datetime) -> tuple[Client, Client]:
    """Return the desk's browser and a tablet with a technician signed in."""
    from django.test import Client

    from cases.models import BenchSession, Tablet
    from cases.views.visitor import TABLET_COOKIE
    from tests.factories import TABLET_TOKEN

    desk, tablet = Client(HTTP_HOST="localhost"), Client(HTTP_HOST="localhost")
    user = shop.people["noor"].user
    if user is None:
        raise SystemExit("The desk has no sign-in.")
    desk.force_login(user)
    tablet.cookies[TABLET_COOKIE] = TABLET_TOKEN
    BenchSession.objects.create(
        tablet=Tablet.objects.get(name="Bench 3"),
        person=shop.people["mara"],
        opened_at=now,
        seen_at=now,
    )
    return desk, tablet


def _milliseconds(client: Client, address: str) -> float:
    began = time.perf_counter()
    response = client.get(address)
    took = (time.perf_counter() - began) * 1000
    if response.status_code != 200:
        raise SystemExit(f"{address} answered {response.status_code}: nothing to measure.")
    return took


def compare(
    client: Client, page: str, bare: str, *, runs: int, requests: int
) -> tuple[float, float]:
    """Return the median milliseconds of a page, and its median ratio to the bare view."""
    _milliseconds(client, page)
    _milliseconds(client, bare)
    pages, ratios = [], []
    for _ in range(runs):
        pairs = [
            (_milliseconds(client, page), _milliseconds(client, bare)) for _ in range(requests)
        ]
        whole, plain = (median(times) for times in zip(*pairs, strict=True))
        pages.append(whole)
        ratios.append(whole / plain)
    return median(pages), median(ratios)


def bench_rows(shop: Shop, now: datetime) -> int:
    """Return how many stages the bench page shows, so that the bare view shows as many."""
    from cases.selectors.bench import bench_of

    lists = bench_of(shop.people["mara"], now)
    groups = (lists.in_hand, lists.given, lists.free, lists.waiting, lists.held, lists.away)
    return sum(map(len, groups))


def measure_pages(
    shop: Shop, clients: tuple[Client, Client], now: datetime, arguments: argparse.Namespace
) -> dict[str, float]:
    """Print both pages against their bare views; return their milliseconds."""
    desk, tablet = clients
    shown = max(1, bench_rows(shop, now))
    asked = {
        "open cases": (desk, "/desk/", "/bare/cases/"),
        f"bench ({shown} stages)": (tablet, "/bench/", f"/bare/stages/?rows={shown}"),
    }
    times = {}
    for name, (client, page, bare) in asked.items():
        took, ratio = compare(client, page, bare, runs=arguments.runs, requests=arguments.requests)
        times[name.split(" (")[0]] = took
        say(f"  {name:22} {took:7.1f} ms   {ratio:4.1f} x the bare view (aim {AIM_BARE:.0f})")
    return times


def measure_ticks(shop: Shop, now: datetime, arguments: argparse.Namespace) -> None:
    """Print how long ticks take when everybody works at once."""
    from django.db import connection

    from benchmarks.ticks import (
        BETWEEN_TICKS,
        TABLETS,
        give_jobs,
        p95,
        people_with_tablets,
        press,
        server,
        warm,
    )

    hands = people_with_tablets(shop, now)
    hows = (
        (BETWEEN_TICKS, "about a second between ticks"),
        (0.0, "without a breath between ticks"),
    )
    for place, (pause, words) in enumerate(hows):
        tops, middles = [], []
        with server() as port:
            warm(port, hands)
            for run in range(arguments.runs):
                give_jobs(shop, hands, 1, now, serial=place * 100 + run)
                times = press(port, hands, pause)
                tops.append(p95(times))
                middles.append(median(times) * 1000)
        aim = f" (aim {AIM_TICK:.0f})" if connection.vendor == "postgresql" else ""
        say(
            f"  {TABLETS} tablets, {words}: p95 {median(tops):.0f} ms{aim}, "
            f"median {median(middles):.0f} ms"
        )


def run(arguments: argparse.Namespace) -> None:
    """Measure the small house, the large one, and the ticks in the large one."""
    from django.db import connection
    from django.test import override_settings
    from django.utils import timezone

    from benchmarks.fill import fill, first_cases
    from cases.models import Lab
    from tests.factories import make_shop

    now = timezone.now()
    say(f"{connection.vendor}, {arguments.runs} runs, {arguments.requests} requests each, medians")
    shop = make_shop(now)
    Lab.objects.update(idle_lock_minutes=IDLE_FOR_THE_MEASUREMENT)
    sources = first_cases(shop, now)
    before: dict[str, float] = {}
    so_far = [len(sources), 0]
    for open_cases, finished in (arguments.small, arguments.large):
        fill(
            sources,
            open_cases=max(0, open_cases - so_far[0]),
            finished=finished - so_far[1],
            now=now,
            serial=sum(so_far),
        )
        so_far = [open_cases, finished]
        say(f"{open_cases} open, {finished} finished cases:")
        with override_settings(ROOT_URLCONF="benchmarks.bare"):
            if not before:
                clients = browsers(shop, now)
            times = measure_pages(shop, clients, now, arguments)
        for name, took in times.items():
            if name in before:
                growth = took / before[name]
                say(f"  {name:22} {growth:.1f} x the small house (aim {AIM_GROWTH:.0f})")
        before = times
    if not arguments.no_ticks:
        measure_ticks(shop, now, arguments)


def _house(text: str) -> tuple[int, int]:
    open_cases, finished = text.split("/")
    return int(open_cases), int(finished)


def main(words: Sequence[str] | None = None) -> None:
    """Read the command line and measure."""
    reader: Any = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--runs", type=int, default=5)
    reader.add_argument("--requests", type=int, default=20)
    reader.add_argument("--small", type=_house, default=(60, 400), metavar="OPEN/FINISHED")
    reader.add_argument("--large", type=_house, default=(2_000, 50_000), metavar="OPEN/FINISHED")
    reader.add_argument("--no-ticks", action="store_true", help="pages only")
    arguments = reader.parse_args(words)
    with scratch():
        run(arguments)


if __name__ == "__main__":
    main()
