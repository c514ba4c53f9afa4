"""The static files can be collected for production, and what pages name is there."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings
from django.contrib.staticfiles import finders

ROOT = Path(settings.BASE_DIR)
NAMED = re.compile(r"""\{%\s*static\s+["']([^"']+)["']""")


def test_every_static_file_that_a_template_names_exists() -> None:
    missing = {
        f"{template.relative_to(ROOT)}: {name}"
        for template in (ROOT / "templates").rglob("*.html")
        for name in NAMED.findall(template.read_text(encoding="utf-8"))
        if finders.find(name) is None
    }

    assert missing == set()


@pytest.fixture(scope="module")
def collected(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that production serves."""
    folder = tmp_path_factory.mktemp("static")
    environment = {k: v for k, v in os.environ.items() if not k.startswith("LABFLOW_")}
    environment |= {
        "LABFLOW_PRODUCTION": "1",
        "LABFLOW_SECRET_KEY": "for-this-test",
        "LABFLOW_STATIC": str(folder),
        "LABFLOW_VAR": str(tmp_path_factory.mktemp("var")),
    }
    done = subprocess.run(
        [sys.executable, "manage.py", "collectstatic", "--no-input", "--verbosity", "0"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return folder


def test_collected_files_bear_a_hash(collected: Path) -> None:
    hashed = [path.name for path in (collected / "vendor").glob("htmx.min.*.js")]

    assert len(hashed) == 1
    assert re.fullmatch(r"htmx\.min\.[0-9a-f]{12}\.js", hashed[0])


def test_collected_modules_import_each_other_by_hashed_names(collected: Path) -> None:
    plain = {
        f"{script.name}: {target}"
        for script in (collected / "js").rglob("*.????????????.js")
        for target in re.findall(
            r"""^import\b[^;]*?["'](\.[^"']+)["']""", script.read_text("utf-8"), re.M
        )
        if not re.search(r"\.[0-9a-f]{12}\.js$", target)
    }

    assert plain == set()
