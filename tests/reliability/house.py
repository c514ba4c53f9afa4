"""A lab of real processes on the database of a test: web, worker and broker, each to be killed."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import uuid
from collections.abc import Callable
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlencode

from celery import Celery
from django.conf import settings
from django.db import connection
from django.test import Client
from kombu.exceptions import OperationalError

PATIENCE_S: Final = 60.0
HOST: Final = "127.0.0.1"
CSRF: Final = "c" * 32


def free_port() -> int:
    """Return a port that nobody listens on."""
    with socket.socket() as probe:
        probe.bind((HOST, 0))
        return int(probe.getsockname()[1])


def until(true: Callable[[], bool], patience: float = PATIENCE_S) -> bool:
    """Wait until something is true; False when it never was."""
    end = time.monotonic() + patience
    while time.monotonic() < end:
        if true():
            return True
        time.sleep(0.05)
    return true()


class House:
    """Web, worker and broker as processes of their own, started, killed and started again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.ports = {"web": free_port(), "broker": free_port()}
        self.redis = f"redis://{HOST}:{self.ports['broker']}/0"
        login = "{USER}@{HOST}:{PORT}/{NAME}".format(**connection.settings_dict)
        self.environment = {
            **{key: value for key, value in os.environ.items() if not key.startswith("LABFLOW_")},
            "LABFLOW_VAR": str(folder),
            "LABFLOW_FILES": str(settings.MEDIA_ROOT),
            "LABFLOW_DATABASE": f"postgresql://{login}",
            "LABFLOW_REDIS": self.redis,
            "LABFLOW_SECRET_KEY": settings.SECRET_KEY,
            "PYTHONWARNINGS": "ignore",
        }
        self.running: dict[str, subprocess.Popen[bytes]] = {}
        self.queue = Celery("nudges", broker=self.redis)
        self.cookies: dict[str, str] = {}

    def commands(self) -> dict[str, list[str]]:
        """Return how each part is started: as in production."""
        return {
            "broker": [
                "redis-server", "--bind", HOST, "--port", str(self.ports["broker"]), "--save", "",
                "--appendonly", "no", "--dir", str(self.folder), "--loglevel", "warning",
            ],
            "web": [
                sys.executable, "-m", "gunicorn", "labflow.wsgi:application", "--bind",
                f"{HOST}:{self.ports['web']}", "--worker-class", "gthread", "--workers", "1",
                "--threads", "4", "--log-level", "critical",
            ],
            "worker": [
                sys.executable, "-m", "celery", "-A", "labflow", "--quiet", "worker",
                "--concurrency", "2", "--loglevel", "CRITICAL", "--without-gossip",
                "--without-mingle",
            ],
        }  # fmt: skip

    def start(self, part: str) -> None:
        """Start a part and, where it listens, wait until it does."""
        self.running[part] = subprocess.Popen(
            self.commands()[part],
            cwd=settings.BASE_DIR,
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        if part in self.ports:
            assert until(lambda: self._listens(part)), f"{part} never listened"

    def _listens(self, part: str) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex((HOST, self.ports[part])) == 0

    def kill(self, part: str) -> None:
        """Kill a part with all its processes outright, as a power cut does."""
        process = self.running.pop(part)
        os.killpg(process.pid, signal.SIGKILL)
        process.wait(timeout=PATIENCE_S)
        if part in self.ports:
            assert until(lambda: not self._listens(part)), f"{part} still listens"

    def close(self) -> None:
        """Kill whatever runs."""
        for part in list(self.running):
            self.kill(part)
        self.queue.close()

    # --- what a browser and the clock do -----------------------------------------------------
    def sign_in(self, user: Any) -> None:
        """Let somebody be signed in, as the sign-in page does it."""
        client = Client()
        client.force_login(user)
        self.cookies = {
            settings.SESSION_COOKIE_NAME: client.cookies[settings.SESSION_COOKIE_NAME].value,
            "csrftoken": CSRF,
        }

    def get(self, path: str) -> tuple[int, str]:
        """Ask for a page; return its status and text."""
        return self._ask("GET", path, None)

    def post(self, path: str, submission: uuid.UUID, **body: Any) -> tuple[int, str]:
        """Send a form under a submission id; return the status and where it led, or the text."""
        told = {"submission_id": str(submission), "csrfmiddlewaretoken": CSRF, **body}
        return self._ask("POST", path, urlencode(told))

    def _ask(self, method: str, path: str, body: str | None) -> tuple[int, str]:
        channel = HTTPConnection(HOST, self.ports["web"], timeout=PATIENCE_S)
        headers = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        if body is not None:
            headers["Content-Type"] = "application/x-www-form-urlencoded"
        try:
            channel.request(method, path, body, headers)
            answer = channel.getresponse()
            return answer.status, answer.headers.get("Location") or answer.read().decode()
        finally:
            channel.close()

    def post_and_kill(
        self, part: str, after_s: float, path: str, submission: uuid.UUID, **body: Any
    ) -> tuple[int, str] | None:
        """Send a form and kill a part a moment later; return the answer, or None for none."""
        got: list[tuple[int, str]] = []

        def send() -> None:
            try:
                got.append(self.post(path, submission, **body))
            except (OSError, HTTPException):
                return

        sender = threading.Thread(target=send)
        sender.start()
        time.sleep(after_s)
        self.kill(part)
        sender.join(timeout=PATIENCE_S)
        return got[0] if got else None

    def nudge(self) -> None:
        """Send one sweep, as the clock does every 15 seconds; a dead broker takes none."""
        try:
            self.queue.send_task("cases.tasks.sweep", ignore_result=True, retry=False)
        except OperationalError:
            return
