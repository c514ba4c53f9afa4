"""Headers, checks, the certificate, the vendored files and the compose file are as promised."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.conf import settings as project
from django.core.management import load_command_class
from django.http import HttpRequest, HttpResponse
from pytest_django.fixtures import Settings

from labflow.certificate import local_certificate
from labflow.checks import check_production_stores, check_utc
from labflow.middleware import security_headers
from labflow.supervisor import trim_queue

ROOT = Path(project.BASE_DIR)


def test_every_answer_forbids_inline_script_and_style() -> None:
    answer = security_headers(lambda request: HttpResponse())(HttpRequest())

    policy = answer.headers["Content-Security-Policy"]
    assert "unsafe" not in policy
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "camera=(self)" in answer.headers["Permissions-Policy"]


def test_an_answer_keeps_its_own_policy() -> None:
    def view(request: HttpRequest) -> HttpResponse:
        return HttpResponse(headers={"Content-Security-Policy": "sandbox"})

    answer = security_headers(view)(HttpRequest())

    assert answer.headers["Content-Security-Policy"] == "sandbox"


def test_utc_check_refuses_a_local_time_zone(settings: Settings) -> None:
    assert check_utc(None) == []

    settings.TIME_ZONE = "Europe/Riga"

    assert [problem.id for problem in check_utc(None)] == ["labflow.E001"]


def test_production_check_refuses_sqlite_and_no_redis(
    settings: Settings, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.PRODUCTION = True
    settings.REDIS_URL = ""
    entry = {"ENGINE": "django.db.backends.sqlite3"}
    monkeypatch.setitem(settings.DATABASES, "default", entry)

    problems = check_production_stores(None)

    assert [problem.id for problem in problems] == ["labflow.E002", "labflow.E003"]


@pytest.mark.skipif(shutil.which("openssl") is None, reason="openssl is not installed")
def test_certificate_is_trusted_through_the_labs_authority_and_kept(tmp_path: Path) -> None:
    names = ["192.0.2.7", "bench.local", "localhost"]

    made = local_certificate(folder=tmp_path / "tls", names=names)
    first = made.certificate.read_bytes()
    authority = made.authority.read_bytes()
    again = local_certificate(folder=tmp_path / "tls", names=names)

    assert again.certificate.read_bytes() == first
    for check in (["-verify_ip", "192.0.2.7"], ["-verify_hostname", "bench.local"]):
        command = ["openssl", "verify", "-CAfile", str(made.authority), *check]
        subprocess.run([*command, str(made.certificate)], check=True, capture_output=True)
    assert made.key.stat().st_mode & 0o077 == 0
    assert (tmp_path / "tls" / "authority.key").stat().st_mode & 0o077 == 0

    # A new address of this machine needs a new certificate, but no new trust on the tablets.
    local_certificate(folder=tmp_path / "tls", names=[*names, "192.0.2.8"])
    assert made.certificate.read_bytes() != first
    assert made.authority.read_bytes() == authority


def test_queue_trim_survives_a_queue_without_tables(tmp_path: Path) -> None:
    assert trim_queue(tmp_path / "none.sqlite3") == 0
    (tmp_path / "empty.sqlite3").touch()
    assert trim_queue(tmp_path / "empty.sqlite3") == 0


def test_vendored_files_bear_the_version_of_the_table() -> None:
    table = (ROOT / "static" / "vendor" / "README.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| `([^`]+\.js)`[^|]*\| [^|]+\| ([\d.]+) \| .*`([^`]+)` \|$", table, re.M)

    assert len(rows) == 2
    for file, version, licence in rows:
        assert f'"{version}"' in (ROOT / file).read_text(encoding="utf-8") or (
            f"v{version}" in (ROOT / file).read_text(encoding="utf-8")[:200]
        )
        assert (ROOT / licence).is_file()


def test_every_vendored_script_is_in_the_table() -> None:
    table = (ROOT / "static" / "vendor" / "README.md").read_text(encoding="utf-8")

    for folder in ("static/vendor", "tests/vendor"):
        for script in (ROOT / folder).rglob("*.js"):
            assert f"`{script.relative_to(ROOT)}`" in table


@pytest.fixture(scope="module")
def compose() -> dict[str, Any]:
    loaded: dict[str, Any] = yaml.safe_load((ROOT / "docker-compose.yml").read_text("utf-8"))
    return loaded


def test_compose_has_one_beat_and_no_second_clock(compose: dict[str, Any]) -> None:
    clocks = [
        name
        for name, service in compose["services"].items()
        if "beat" in service.get("command", []) or "-B" in service.get("command", [])
    ]

    assert clocks == ["beat"]
    assert compose["services"]["beat"]["deploy"]["replicas"] == 1


def test_compose_waits_and_checks_health(compose: dict[str, Any]) -> None:
    services = compose["services"]

    assert set(services) == {"db", "redis", "migrate", "web", "worker", "planner", "beat"}
    for name in ("db", "redis", "web", "worker", "planner"):
        assert "healthcheck" in services[name]
    for name in ("web", "worker", "planner", "beat"):
        assert services[name]["depends_on"]["migrate"]["condition"] == (
            "service_completed_successfully"
        )


def test_compose_holds_no_secret(compose: dict[str, Any]) -> None:
    environment = compose["services"]["web"]["environment"]

    assert environment["LABFLOW_SECRET_KEY"].startswith("${LABFLOW_SECRET_KEY:?")
    assert "${POSTGRES_PASSWORD:?" in environment["LABFLOW_DATABASE"]


def test_compose_calls_commands_that_exist(compose: dict[str, Any]) -> None:
    for name in ("web", "worker"):
        line = compose["services"][name]["healthcheck"]["test"]
        assert line[1:3] == ["python", "manage.py"]
        load_command_class("cases", line[3])
