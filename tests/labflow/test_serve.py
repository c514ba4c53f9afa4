"""The embedded lab as a person starts it: real processes, a real Ctrl-C."""

from __future__ import annotations

import os
import queue
import re
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from http.client import HTTPConnection
from pathlib import Path

import pytest
from django.conf import settings

PATIENCE_SECONDS = 60.0


class Lab:
    """One running ``manage.py serve`` and what it has said."""

    def __init__(self, folder: Path, port: int) -> None:
        self.folder = folder
        self.port = port
        self.said: list[str] = []
        environment = {k: v for k, v in os.environ.items() if not k.startswith("LABFLOW_")}
        environment |= {"LABFLOW_VAR": str(folder), "PYTHONUNBUFFERED": "1"}
        self.environment = environment
        manage(environment, "migrate", "--verbosity", "0")
        self.process = subprocess.Popen(
            [sys.executable, "manage.py", "serve", "--port", str(port)],
            cwd=settings.BASE_DIR,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        self._lines: queue.Queue[str] = queue.Queue()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self._lines.put(line)

    def wait_for(self, text: str) -> None:
        """Wait until a line with the text has been said."""
        until = time.monotonic() + PATIENCE_SECONDS
        while time.monotonic() < until:
            try:
                line = self._lines.get(timeout=0.2)
            except queue.Empty:
                if self.process.poll() is not None and self._lines.empty():
                    break
                continue
            self.said.append(line)
            if text in line:
                return
        pytest.fail(f"never said {text!r}, but: {''.join(self.said)}")

    def children(self, word: str) -> list[int]:
        """Return the process ids of the lab's children whose command has the word."""
        found = []
        for entry in Path("/proc").glob("[0-9]*"):
            try:
                stat = (entry / "stat").read_text()
                command = (entry / "cmdline").read_bytes().split(b"\0")
            except OSError:
                continue
            parent = int(stat.rpartition(")")[2].split()[1])
            if parent == self.process.pid and word.encode() in command:
                found.append(int(entry.name))
        return found

    def close(self) -> int:
        """Stop as Ctrl-C does and return the exit code."""
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(timeout=PATIENCE_SECONDS)


def manage(environment: dict[str, str], *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "manage.py", *arguments],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def until(true: Callable[[], bool]) -> bool:
    end = time.monotonic() + PATIENCE_SECONDS
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.2)
    return False


@pytest.fixture
def lab(tmp_path: Path) -> Iterator[Lab]:
    lab = Lab(tmp_path / "var", free_port())
    try:
        yield lab
    finally:
        if lab.process.poll() is None:
            lab.process.terminate()
            lab.process.wait(timeout=PATIENCE_SECONDS)
        if lab.process.stdout is not None:
            lab._reader.join(timeout=5)
            lab.process.stdout.close()


@pytest.mark.skipif(sys.platform != "linux", reason="finds the parts in /proc")
def test_serve_opens_revives_its_worker_refuses_a_twin_and_closes(lab: Lab) -> None:
    lab.wait_for(f"The lab is open at http://localhost:{lab.port}/")
    connection = HTTPConnection("127.0.0.1", lab.port, timeout=10)
    connection.request("GET", "/static/vendor/README.md", headers={"Host": "localhost"})
    assert connection.getresponse().status == 200
    connection.close()

    # A second clock on the same lab would send everything twice.
    twin = manage(lab.environment, "serve", "--port", str(free_port()))
    assert twin.returncode == 1
    assert re.search(r"A lab already runs from .*var", twin.stderr)
    # And a database must not be swapped under a running lab.
    swap = manage(lab.environment, "restore", "some.sqlite3")
    assert swap.returncode == 1
    assert "The lab is running" in swap.stderr

    (planner,) = lab.children(settings.PLANNING_QUEUE)
    (worker,) = set(lab.children("worker")) - {planner}
    for name, part in (("worker", worker), ("planner", planner)):
        os.kill(part, signal.SIGKILL)
        lab.wait_for(f"The {name} stopped (exit code -9). It starts again")
    assert until(
        lambda: len(alike := set(lab.children("worker"))) == 2 and not alike & {planner, worker}
    )

    assert lab.close() == 0
    lab.wait_for("The lab is closed.")
    assert lab.children("worker") == []


@pytest.mark.skipif(sys.platform != "linux", reason="the death signal is Linux's")
def test_serve_killed_outright_leaves_no_second_clock_behind(lab: Lab) -> None:
    lab.wait_for("The lab is open")
    parts = [*lab.children("beat"), *lab.children("worker"), *lab.children("gunicorn")]
    assert len(parts) == 4  # the planner is a worker too

    lab.process.kill()
    lab.process.wait()

    assert until(lambda: not any(alive(part) for part in parts))


def alive(process: int) -> bool:
    """Return whether the process still works; one that nobody reaped does not."""
    try:
        stat = Path(f"/proc/{process}/stat").read_text()
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] != "Z"


def test_serve_refuses_a_taken_port(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]

        refused = manage(os.environ | {"LABFLOW_VAR": str(tmp_path)}, "serve", "--port", str(port))

    assert refused.returncode == 1
    assert f"Port {port} on 127.0.0.1 cannot be used" in refused.stderr
    assert f"PORT={port + 1}" in refused.stderr
