"""Fixtures of the house: time, files, browser, engine. Cases come from tests/factories.py."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import hypothesis
import pytest
from django.conf import settings as django_settings
from django.db import connection
from django.db.backends.base.operations import BaseDatabaseOperations

from cases.domain.planning.compiled.engine import use as use_compiled
from labflow import celery_app

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page
    from pytest_django.fixtures import Settings
    from pytest_django.plugin import DjangoDbBlocker

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
CHROMIUM_ARGUMENTS = (
    "--no-sandbox",
    "--disable-quic",
    "--disable-background-networking",
    "--disable-dev-shm-usage",
)


def pytest_configure() -> None:
    """Keep nudges of the tests in memory: tests call tasks themselves, nothing runs beside them."""
    celery_app.conf.update(broker_url="memory://", beat_schedule={})
    BaseDatabaseOperations.execute_sql_flush = _flush_with_guard_lifted
    # A busy machine is slow, not wrong. The gate draws the same examples every time, so that what
    # it refuses can be seen again; anyone's own run draws new ones.
    # Both give the same plans; a test that means compiled code says so (tests/domain/planning).
    use_compiled(False)
    hypothesis.settings.register_profile(
        "labflow", deadline=None, derandomize=os.environ.get("CI") == "true"
    )
    hypothesis.settings.load_profile("labflow")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip with the reason what needs PostgreSQL and Redis where this run has none."""
    if connection.vendor == "postgresql" and django_settings.REDIS_URL:
        return
    skip = pytest.mark.skip(reason="needs PostgreSQL and Redis: make test-production")
    for item in items:
        if item.get_closest_marker("production"):
            item.add_marker(skip)


_flush = BaseDatabaseOperations.execute_sql_flush


def _flush_with_guard_lifted(operations: BaseDatabaseOperations, sql_list: list[str]) -> None:
    """Let the flush after a transactional test delete the record, and nothing else do so."""
    from cases.models.guard import lifted

    with lifted():
        _flush(operations, sql_list)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Make the databases; end what still talks to one before it goes.

    A thread of the live server keeps its session for a moment after the browser has gone, and
    PostgreSQL drops no database that somebody talks to.
    """
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture
def now() -> datetime:
    """A Wednesday in December, 09:42 UTC: the instant that tests pass in."""
    return datetime(2026, 12, 9, 9, 42, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _quiet_house(settings: Settings, tmp_path: Path) -> None:
    """Keep files, mail, backups and cache of a test its own, and passwords quick.

    What one test counts in the cache, such as wrong passwords of a name, must refuse nobody in
    the next; and emptying a Redis that two runners share would take it from the other.
    """
    settings.MEDIA_ROOT = tmp_path / "files"
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.CACHES = {"default": {**settings.CACHES["default"], "KEY_PREFIX": str(tmp_path)}}


@pytest.fixture
def engine() -> str:
    """Return ``"sqlite"`` or ``"postgresql"``: what this run stands on."""
    return connection.vendor


def find_chromium(fetched: str) -> str | None:
    """Return the browser's path: ``LABFLOW_CHROMIUM``, the machine's own, or the fetched one."""
    named = os.environ.get("LABFLOW_CHROMIUM")
    if named:
        return named
    installed = next((path for path in map(shutil.which, CHROMIUM_NAMES) if path), None)
    return installed or (fetched if Path(fetched).exists() else None)


@pytest.fixture(scope="session")
def _browser() -> Iterator[Browser]:
    from playwright.sync_api import sync_playwright

    # Playwright's sync interface leaves an event loop in the test's thread; Django then takes
    # every query of the test for one from async code.
    before = os.environ.get("DJANGO_ALLOW_ASYNC_UNSAFE")
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "1"
    try:
        with sync_playwright() as playwright:
            path = find_chromium(playwright.chromium.executable_path)
            if path is None:
                _no_chromium()
            browser = playwright.chromium.launch(
                executable_path=path, args=list(CHROMIUM_ARGUMENTS)
            )
            yield browser
            browser.close()
    finally:
        if before is None:
            del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]
        else:
            os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = before


def _no_chromium() -> None:
    message = "No Chromium found. Install it (Debian: apt-get install chromium)."
    if os.environ.get("CI", "").lower() in {"1", "true", "yes"}:
        pytest.fail(message)
    pytest.skip(message)


@pytest.fixture
def page(_browser: Browser) -> Iterator[Page]:
    """A fresh browser window, 1280 x 900, light, in UTC and English.

    A script error on the page or a refused policy (Content-Security-Policy) fails the test.
    """
    context = _browser.new_context(
        viewport={"width": 1280, "height": 900},
        locale="en-GB",
        timezone_id="UTC",
        color_scheme="light",
    )
    context.set_default_timeout(30_000)
    page = context.new_page()
    faults: list[str] = []
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.on(
        "console",
        lambda message: (
            faults.append(message.text)
            if message.type == "error" and "Content Security Policy" in message.text
            else None
        ),
    )
    yield page
    context.close()
    assert faults == []


@pytest.fixture(scope="session")
def axe_source() -> str:
    """The text of the accessibility checker; run it with ``page.evaluate``."""
    folder = Path(django_settings.BASE_DIR) / "tests" / "vendor"
    return (folder / "axe.min.js").read_text(encoding="utf-8")
