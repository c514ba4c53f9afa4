"""Words for people: every one goes through gettext, and its tools find every one."""

from __future__ import annotations

import ast
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as django_settings
from django.core.management import call_command
from django.utils import translation

from cases.domain import soak, words

ROOT = Path(django_settings.BASE_DIR)
CASES = ROOT / "cases"

SAYS = {"_", "N_", "gettext", "gettext_lazy", "gettext_noop", "ngettext", "ngettext_lazy"}
COUNTS = {"ngettext", "ngettext_lazy"}
SPOKEN = ("services", "domain", "selectors", "forms", "views", "documents")
"""The floors whose sentences people read; the demo, the commands and the guards speak to us."""

SENTENCE = re.compile(r"^[A-Z“%{].* .*[.?!]$", re.S)

each_module = pytest.mark.parametrize(
    "module",
    sorted(path for floor in SPOKEN for path in (CASES / floor).rglob("*.py")),
    ids=lambda path: path.relative_to(CASES).as_posix(),
)


def called(node: ast.AST) -> str:
    """Return the name that a call calls, empty for anything else."""
    if not isinstance(node, ast.Call):
        return ""
    function = node.func
    return getattr(function, "id", "") or getattr(function, "attr", "")


def marked(tree: ast.AST) -> Iterator[str]:
    """Yield the words that the calls of gettext in a module mark."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and called(node) in SAYS:
            for told in node.args[: 2 if called(node) in COUNTS else 1]:
                if isinstance(told, ast.Constant) and isinstance(told.value, str):
                    yield told.value


def text_of(node: ast.AST) -> str:
    """Return the text that stands literally in a string or an f-string, its values as blanks."""
    if isinstance(node, ast.Constant):
        return node.value if isinstance(node.value, str) else ""
    parts = node.values if isinstance(node, ast.JoinedStr) else []
    return "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in parts)


def bare(node: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield line and text of what is said in an expression without a call of gettext."""
    if called(node) in SAYS or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ):
        return
    if isinstance(node, ast.Constant | ast.JoinedStr):
        yield getattr(node, "lineno", 0), text_of(node)
        return
    for child in ast.iter_child_nodes(node):
        yield from bare(child)


def programmers_error(node: ast.AST) -> bool:
    """Whether this raises an error that no person ever reads."""
    return isinstance(node, ast.Raise) and called(node.exc or node) in {
        "ValueError", "TypeError", "LookupError", "KeyError", "RuntimeError", "AssertionError",
    }  # fmt: skip


def sentences(node: ast.AST) -> Iterator[tuple[int, str]]:
    """Yield whole sentences that are said bare, programmers' errors left out."""
    if programmers_error(node):
        return
    if called(node) in SAYS or (
        isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    ):
        return
    if isinstance(node, ast.Constant | ast.JoinedStr):
        text = text_of(node)
        if SENTENCE.match(text) and re.search(r"[a-z]{2}", text):
            yield getattr(node, "lineno", 0), text
        return
    for child in ast.iter_child_nodes(node):
        yield from sentences(child)


@each_module
def test_sentences_go_through_gettext(module: Path) -> None:
    assert list(sentences(ast.parse(module.read_text("utf-8")))) == []


@pytest.mark.parametrize(
    "module", sorted((CASES / "services").glob("*.py")), ids=lambda path: path.name
)
def test_refusals_go_through_gettext(module: Path) -> None:
    said = []
    for node in ast.walk(ast.parse(module.read_text("utf-8"))):
        if isinstance(node, ast.Call) and called(node) in {"Refusal", "OtherBody"}:
            told = [*node.args[1:2], *(k.value for k in node.keywords if k.arg == "sentence")]
            found = (text for each in told for _line, text in bare(each))
            said += [text for text in found if re.search(r"[a-z]{2}.* |^[A-Z].* ", text)]

    assert said == []


@each_module
def test_words_are_told_literally(module: Path) -> None:
    # The tools read the source: they cannot see through an f-string, a sum, an "or" or a wrapper.
    unseen = []
    for node in ast.walk(ast.parse(module.read_text("utf-8"))):
        if not isinstance(node, ast.Call) or called(node) not in SAYS:
            continue
        must = called(node) in COUNTS | {"N_", "gettext_noop"}
        unseen += [
            node.lineno
            for told in node.args[: 2 if called(node) in COUNTS else 1]
            if isinstance(told, ast.JoinedStr | ast.BinOp)
            or (
                isinstance(told, ast.BoolOp)
                and any(isinstance(e, ast.Constant) for e in told.values)
            )
            or (must and not isinstance(told, ast.Constant))
        ]

    assert unseen == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('Refusal("no", "Say why.")', 1),
        ('Refusal("no", f"{row.name} is closed.")', 1),
        ('Refusal("no", _("%(stage)s is closed.") % {"stage": row.name})', 0),
        ('answer("Somebody has it. Wait.")', 1),
        ('raise ValueError(f"{name} is not text.")', 0),
        ('"""A docstring is for us."""', 0),
    ],
)
def test_a_bare_sentence_is_found(source: str, found: int) -> None:
    assert len(list(sentences(ast.parse(source)))) == found


def catalogue(text: str) -> set[str]:
    """Return the words that a catalogue asks for, counted ones in both their forms."""
    asked = re.findall(r'^msgid(?:_plural)? ((?:".*"\n?)+)', text, re.M)
    return {"".join(ast.literal_eval(line) for line in one.splitlines()) for one in asked}


@pytest.mark.skipif(shutil.which("xgettext") is None, reason="GNU gettext is not installed")
def test_makemessages_finds_every_word(
    tmp_path: Path, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    for folder in ("cases", "templates"):
        shutil.copytree(
            ROOT / folder, tmp_path / folder, ignore=shutil.ignore_patterns("__pycache__")
        )
    settings.LOCALE_PATHS = [tmp_path / "locale"]
    monkeypatch.chdir(tmp_path)

    call_command("makemessages", locale=["de"], verbosity=0)

    found = catalogue((tmp_path / "locale/de/LC_MESSAGES/django.po").read_text("utf-8"))
    wanted = {
        told for path in CASES.rglob("*.py") for told in marked(ast.parse(path.read_text("utf-8")))
    }
    assert wanted - found == set()
    assert "Unpack and log" in found  # a stage of the trade's own table
    assert "Nothing is saved yet: one thing needs your eye." in found  # and of a template


def test_the_trade_speaks_through_the_app(monkeypatch: pytest.MonkeyPatch) -> None:
    # Ready once, the app has handed Django's translator over.
    said = {"%(hours)d h": "%(hours)d Stunden"}
    monkeypatch.setattr(words._Speaker, "say", staticmethod(lambda text: said.get(text, text)))

    assert soak.say_span(300) == "5 Stunden"


def test_the_app_hands_over_djangos_translator() -> None:
    assert words._Speaker.say is translation.gettext
    assert words._Speaker.say_count is translation.ngettext


@pytest.mark.parametrize(("count", "said"), [(0, "0 days"), (1, "1 day"), (2, "2 days")])
def test_english_counts(count: int, said: str) -> None:
    assert words.ngettext("%d day", "%d days", count) % count == said
    assert words._english("%d day", "%d days", count) % count == said
