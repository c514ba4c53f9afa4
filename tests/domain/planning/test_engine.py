"""When the planner's compiled code is loaded, and by whom it is compiled."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from cases.domain.planning.compiled import engine

ROOT = Path(__file__).resolve().parents[3]
COLD = """
import json, resource
from cases.domain.planning.compiled import engine

ready = engine.wait()
own, other = map(resource.getrusage, (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
print(json.dumps([ready, own.ru_maxrss, other.ru_maxrss]))
"""


@pytest.fixture
def mark(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The mark of a cache in a folder of this test, as of one machine."""
    place = tmp_path / "kernels-own" / "compiled-for"
    place.parent.mkdir()
    monkeypatch.setattr(engine, "_mark", lambda: (place, "this machine"))
    return place


def test_compiled_code_of_this_machine_is_found_again(mark: Path) -> None:
    before = engine._kept()
    engine._keep()

    assert (before, engine._kept()) == (False, True)


def test_compiled_code_of_another_machine_does_not_count(mark: Path) -> None:
    mark.write_text("another machine", encoding="utf-8")

    assert not engine._kept()


def test_cache_that_is_not_there_stops_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engine, "_mark", lambda: (tmp_path / "none" / "compiled-for", "this"))

    engine._keep()

    assert not engine._kept()


WEEK = 7 * 24 * 3600


def beside(mark: Path, name: str, *, used: float, marked: bool = True) -> Path:
    """Make a folder of compiled code beside that of ``mark``, last loaded so many seconds ago."""
    folder = mark.parent.parent / name
    (folder / "planning_1").mkdir(parents=True)
    (folder / "planning_1" / "kernel.nbc").write_bytes(b"code")
    if marked:
        (folder / "compiled-for").write_text("this machine", encoding="utf-8")
    for one in (*folder.glob("compiled-for"), folder):
        os.utime(one, (time.time() - used, time.time() - used))
    return folder


def test_compiled_code_that_nobody_loads_any_more_is_removed(mark: Path) -> None:
    old, broken_off = (
        beside(mark, name, used=WEEK + 60, marked=marked)
        for name, marked in (("kernels-old", True), ("kernels-broken-off", False))
    )
    kept = [
        beside(mark, "kernels-the-one-before", used=WEEK - 60),
        beside(mark, "kernels-in-the-making", used=0, marked=False),
        beside(mark, "something-else", used=9 * WEEK),
        mark.parent,
    ]

    engine._keep()

    assert [old.exists(), broken_off.exists()] == [False, False]
    assert [folder.exists() for folder in kept] == [True] * 4
    assert (kept[0] / "planning_1" / "kernel.nbc").exists()


def test_compiled_code_that_is_loaded_now_and_then_is_kept_by_other_versions(mark: Path) -> None:
    engine._keep()
    long_ago = time.time() - 9 * WEEK
    for one in (mark, mark.parent):
        os.utime(one, (long_ago, long_ago))
    engine._keep()

    other = beside(mark, "kernels-other", used=0) / "compiled-for"
    engine._drop_superseded(other)

    assert engine._kept()


def test_folder_that_lies_elsewhere_is_left_alone(mark: Path, tmp_path: Path) -> None:
    elsewhere = beside(mark, "elsewhere", used=9 * WEEK)
    (tmp_path / "kernels-linked").symlink_to(elsewhere, target_is_directory=True)

    engine._keep()

    assert (elsewhere / "planning_1" / "kernel.nbc").exists()


@pytest.mark.long
@pytest.mark.timeout(900)
def test_process_that_finds_nothing_compiled_stays_small(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-c", COLD],
        cwd=ROOT,
        env={**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)},
        check=True,
        capture_output=True,
        text=True,
    )
    ready, own, other = json.loads(done.stdout)

    assert ready
    # It loads what another process compiled, and that one was by far the larger.
    assert own < other / 2
    assert [*tmp_path.glob("kernels-*/compiled-for")]
