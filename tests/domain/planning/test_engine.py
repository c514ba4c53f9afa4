"""When the planner's compiled code is loaded, and by whom it is compiled."""

from __future__ import annotations

import json
import os
import subprocess
import sys
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
    place = tmp_path / "compiled-for"
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
