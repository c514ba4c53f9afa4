"""Numba, where it is there: kernels, and when they may be asked in this process.

Importing Numba takes about a second, and compiling the kernels for the first time about a
minute; the machine code is kept beside the modules, in ``NUMBA_CACHE_DIR`` where that is set, or
in the user's cache where the modules lie read-only. Compiling leaves about a gigabyte behind in
the process that did it, so a process of its own does it and ends. A page never waits for that:
until ``ready`` says so, everything is done in plain Python.
"""

from __future__ import annotations

import logging
import os
import platform
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from hashlib import sha256
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from shutil import rmtree
from threading import Lock, Thread
from typing import Any, TypeVar, cast

log = logging.getLogger(__name__)

KERNELS = (
    "cases.domain.planning.compiled.decoding",
    "cases.domain.planning.compiled.replaying",
)
"""The modules of kernels. Each has ``warm_up()``, which calls all its kernels once, on the least
problem that has the types of a real one; they import Numba, so nobody imports them early."""

SOURCES = (
    "decode.py", "floor.py", "problem.py", "reload.py", "replay.py", "shop.py", "timeline.py",
)  # fmt: skip
"""What kernels take from the floor above: with a word of it changed, they are compiled again."""

COMPILES = "LABFLOW_COMPILES_HERE"
"""Set in the environment of the process that compiles for another: it asks nobody in its turn."""
PATIENCE = 15 * 60
"""Seconds after which whoever compiles for this process is given up."""

UNUSED = 7 * 24 * 60 * 60
"""Seconds after which compiled code of other sources that no process has loaded is removed.
Judgement: who goes back to the version before within a week need not compile it again, and a
process of that version that still runs finds it."""

F = TypeVar("F", bound=Callable[..., Any])


class _State:
    """What this process knows of its kernels."""

    lock = Lock()
    wanted = True
    loaded = False
    fault = ""
    thread: Thread | None = None


def use(compiled: bool) -> None:
    """Let this process use compiled code, or keep it to plain Python."""
    _State.wanted = compiled


@cache
def _installed() -> bool:
    return find_spec("numba") is not None


def available() -> bool:
    """Return whether compiled code is wanted and Numba is there."""
    return _State.wanted and _installed() and not _State.fault


def why_not() -> str:
    """Return in a few words why this process thinks in plain Python, "" where it need not."""
    if not _State.wanted:
        return "compiled code is switched off"
    if not _installed():
        return "Numba is not installed"
    return _State.fault


def kernel(function: F) -> F:
    """Compile a function when it is first called, and keep the machine code for other processes.

    Raises
    ------
    ImportError
        Where Numba cannot be imported.
    """
    return _compiled(function, {})


def lean(function: F) -> F:
    """Compile a function that makes no array, whole or in part: the same, and far quicker.

    A tuple of arrays that is handed on is counted array by array, at each call, and that was nine
    tenths of the time of a replay. Who makes nothing need not count; Numba's own name of the
    option has an underscore, so where a later one does not know it, everything is counted.
    """
    try:
        return _compiled(function, {"_nrt": False})
    except (KeyError, TypeError, NameError):
        return _compiled(function, {})


@cache
def _numba() -> Any:
    """Import Numba, and give the machine code a folder that is named for its sources.

    Numba looks only whether the module of a kernel has changed since, not what it calls in other
    modules: a kernel would go on with the old code of those.
    """
    numba = import_module("numba")
    here = Path(__file__).parent
    sources = [*here.glob("*.py"), *(here.parent / name for name in SOURCES)]
    digest = sha256(b"".join(source.read_bytes() for source in sorted(sources))).hexdigest()
    beside = here / "__pycache__"
    if numba.config.CACHE_DIR:
        place = Path(numba.config.CACHE_DIR)
    elif os.access(beside if beside.exists() else here, os.W_OK):
        place = beside
    else:
        place = Path.home() / ".cache" / "labflow"
    numba.config.CACHE_DIR = str(place / f"kernels-{digest[:16]}")
    return numba


def _compiled(function: F, options: dict[str, bool]) -> F:
    njit = _numba().njit
    try:
        made = njit(cache=True, nogil=True, **options)(function)
    except RuntimeError:
        # No place in which the cache can be written: this process compiles for itself.
        made = njit(nogil=True, **options)(function)
    return cast(F, made)


def ready() -> bool:
    """Return whether the kernels can be asked at once; else load them behind, and do not wait."""
    if not available():
        return False
    if not _State.loaded:
        _begin()
    return _State.loaded


def wait() -> bool:
    """Load the kernels, compile what is not in the cache, and return whether they can be asked."""
    if not available():
        return False
    if not _State.loaded:
        _begin().join()
    return _State.loaded


def _begin() -> Thread:
    with _State.lock:
        if _State.thread is None:
            _State.thread = Thread(target=_load, name="planner-kernels", daemon=True)
            _State.thread.start()
        return _State.thread


def _load() -> None:
    try:
        if not _kept() and not os.environ.get(COMPILES):
            _compile_apart()
        for name in KERNELS:
            import_module(name).warm_up()
        _keep()
    except Exception as error:
        # Whatever is wrong with a compiler, the lab is planned without it.
        _State.fault = f"{type(error).__name__}: {error}"
        log.exception("compiled code cannot be loaded: thinking in plain Python")
    else:
        _State.loaded = True


def _mark() -> tuple[Path, str]:
    """Return the file that says the kernels are compiled, and what it says: for what machine."""
    numba = _numba()
    binding = import_module("llvmlite.binding")
    machine = f"{numba.__version__} {platform.python_version()} {binding.get_host_cpu_name()}"
    return Path(numba.config.CACHE_DIR) / "compiled-for", machine


def _kept() -> bool:
    """Return whether a process has compiled all kernels for this machine and kept them."""
    place, machine = _mark()
    try:
        return place.read_text(encoding="utf-8") == machine
    except OSError:
        return False


def _keep() -> None:
    """Note that all kernels are in the cache and in use now, if there is one."""
    place, machine = _mark()
    if not place.parent.is_dir():
        return
    try:
        if _kept():
            place.touch()
        else:
            place.write_text(machine, encoding="utf-8")
        _drop_superseded(place)
    except OSError:
        log.info("the folder of compiled code cannot be written: it is asked about each time")


def _drop_superseded(mark: Path) -> None:
    """Remove what was compiled from other sources beside ``mark`` and loaded by nobody of late."""
    now = mark.stat().st_mtime
    for other in mark.parent.parent.glob("kernels-*"):
        if other == mark.parent or other.is_symlink() or not other.is_dir():
            continue
        theirs = other / mark.name
        used = max(one.stat().st_mtime for one in (other, theirs) if one.exists())
        if now - used > UNUSED:
            # The mark goes first: whoever comes meanwhile takes half a cache for none.
            theirs.unlink(missing_ok=True)
            rmtree(other, ignore_errors=True)


def _compile_apart() -> None:
    """Have a process of its own fill the cache. Where that fails, this one compiles for itself."""
    root = Path(__file__).parents[4]
    try:
        subprocess.run(  # noqa: S603 - this interpreter, on this module
            [sys.executable, "-c", f"from {__name__} import wait; wait()"],
            cwd=root,
            env={**os.environ, COMPILES: "1"},
            check=False,
            timeout=PATIENCE,
            stdin=subprocess.DEVNULL,
        )
    except (OSError, subprocess.TimeoutExpired) as error:
        log.warning("the planner is compiled in this process: %s", error)
