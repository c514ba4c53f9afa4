"""What the documents say is so: commands, targets, files, settings."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands

ROOT = Path(settings.BASE_DIR)
DOCUMENTS = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/*.md")])
README = ROOT / "README.md"

SETTING = re.compile(r"\bLABFLOW_[A-Z_]+\b")
TARGET = re.compile(r"\bmake ([a-z][a-z-]+)")
COMMAND = re.compile(r"manage\.py ([a-z][a-z_]+)")
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")
CODE = re.compile(r"`([^`\n]+)`")

READ_BY_OTHERS = {"LABFLOW_CHROMIUM", "LABFLOW_PORT"}
"""Settings of the tests and of the compose file, not of the program."""

each_document = pytest.mark.parametrize("document", DOCUMENTS, ids=lambda path: path.name)


def settings_read() -> set[str]:
    """Return the names that the program reads from the environment."""
    reads = re.compile(r"env\.\w+\(\s*\"(LABFLOW_[A-Z_]+)\"")
    return set(reads.findall((ROOT / "labflow" / "settings.py").read_text(encoding="utf-8")))


def code_of(document: Path) -> str:
    """Return the text of a document that stands as code: blocks and backticks."""
    text = document.read_text(encoding="utf-8")
    blocks = re.findall(r"^```.*?\n(.*?)^```", text, re.M | re.S)
    return "\n".join([*blocks, *CODE.findall(text)])


def test_settings_are_found() -> None:
    # Guards the tests below against a pattern that no longer matches the code.
    assert {"LABFLOW_DATABASE", "LABFLOW_SECRET_KEY", "LABFLOW_VAR"} <= settings_read()
    assert len(settings_read()) > 15


@pytest.mark.skipif(not README.exists(), reason="there is no README.md to hold to its word")
def test_readme_tells_every_setting_and_no_other() -> None:
    told = set(re.findall(r"^\| `(LABFLOW_[A-Z_]+)`", README.read_text("utf-8"), re.M))

    assert told - READ_BY_OTHERS == settings_read()


@each_document
def test_every_setting_named_is_read(document: Path) -> None:
    named = set(SETTING.findall(document.read_text(encoding="utf-8")))

    assert named - READ_BY_OTHERS - settings_read() == set()


@each_document
def test_every_make_target_named_exists(document: Path) -> None:
    targets = set(re.findall(r"^([a-z-]+):", (ROOT / "Makefile").read_text("utf-8"), re.M))

    assert set(TARGET.findall(code_of(document))) - targets == set()


@each_document
def test_every_command_named_exists(document: Path) -> None:
    assert set(COMMAND.findall(code_of(document))) - set(get_commands()) == set()


@each_document
def test_every_linked_file_exists(document: Path) -> None:
    links = LINK.findall(document.read_text(encoding="utf-8"))
    files = [link for link in links if not re.match(r"[a-z]+:", link)]

    assert [file for file in files if not (document.parent / file).exists()] == []


@each_document
def test_every_path_in_backticks_exists(document: Path) -> None:
    """A path of the tree, told by its first folder, is really there."""
    tree = {"cases", "labflow", "static", "templates", "tests", ".ci"}
    named = {
        word.rstrip("/")
        for word in CODE.findall(document.read_text(encoding="utf-8"))
        if re.fullmatch(r"[\w./-]+", word) and "/" in word and word.split("/")[0] in tree
    }

    assert {path for path in named if not (ROOT / path).exists()} == set()


@each_document
def test_every_test_named_exists(document: Path) -> None:
    """A test told as ``tests/…/test_file.py::test_name`` is really there."""
    named = re.findall(r"`(tests/[\w/]+\.py)::(\w+)`", document.read_text(encoding="utf-8"))
    missing = [
        f"{file}::{name}"
        for file, name in named
        if not re.search(rf"^def {name}\(", (ROOT / file).read_text("utf-8"), re.M)
    ]

    assert missing == []
    assert named or document.name != "cure.md"


def test_every_compose_setting_is_read() -> None:
    compose = (ROOT / "docker-compose.yml").read_text(encoding="utf-8")

    assert set(SETTING.findall(compose)) - READ_BY_OTHERS - settings_read() == set()
