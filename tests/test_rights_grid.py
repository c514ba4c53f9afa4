"""Who is let in where: every address × every kind of user × own and other people's objects.

The addresses come from the URL resolver, the expectations from ``tests/rights/<family>.py``: an
address without a line there fails. What one may not see is not there (404).
"""

from __future__ import annotations

import html
import re
import uuid
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.db import transaction
from django.http import HttpResponse
from django.test import override_settings
from django.urls import URLPattern, URLResolver, get_resolver, reverse
from pytest_django import DjangoDbBlocker

from cases.models import Person, PracticeMember
from tests.factories import NOW, make_shop, rows
from tests.rights.kinds import (
    BENCH,
    EVERYBODY,
    KINDS,
    NOBODY,
    PORTAL,
    TABLET,
    browser,
    sessions,
    unlock,
)
from tests.rights.objects import named
from tests.rights.rows import Row, Table
from tests.rights.scene import Scene, lab_only, make_scene, of_others

pytestmark = pytest.mark.django_db

FAMILIES = (
    "account", "bench", "case", "desk", "dispatch", "lab", "load", "manage", "plan", "portal",
    "system", "wall",
)  # fmt: skip
METHODS = ("GET", "POST", "PUT", "PATCH", "DELETE")


def _tables() -> Table:
    found: Table = {}
    for family in FAMILIES:
        table: Table = import_module(f"tests.rights.{family}").ROWS
        twice = set(found) & set(table)
        assert not twice, f"two families have lines for {twice}"
        found |= table
    return found


ROWS = _tables()


def _patterns(resolver: URLResolver) -> Iterator[URLPattern]:
    for pattern in resolver.url_patterns:
        if isinstance(pattern, URLResolver):
            yield from _patterns(pattern)
        else:
            yield pattern


ADDRESSES: dict[str, URLPattern] = {str(p.name): p for p in _patterns(get_resolver())}


def test_every_address_has_a_line_and_every_line_an_address() -> None:
    assert set(ADDRESSES) == set(ROWS)


def test_every_family_of_pages_has_its_table() -> None:
    views = Path(__file__).parent.parent / "cases" / "views"
    assert {path.parent.name for path in views.glob("*/urls.py")} == set(FAMILIES)


def test_every_view_says_what_it_asks_for() -> None:
    bare = [name for name, pattern in ADDRESSES.items() if not hasattr(pattern.callback, "may")]
    assert bare == []


def test_pages_that_are_open_to_all_are_exactly_these() -> None:
    opened = {name for name, p in ADDRESSES.items() if p.callback.may == "open"}  # type: ignore[attr-defined]
    led = {name for name, lines in ROWS.items() if lines[0].led and lines[0].who == EVERYBODY}
    assert opened == led | {"file"}


def methods_of(name: str) -> tuple[str, ...]:
    """Return the methods that a view takes."""
    taken: tuple[str, ...] = ADDRESSES[name].callback.methods  # type: ignore[attr-defined]
    return taken


class Grid:
    """A scene with everybody's cookies; each request leaves nothing behind."""

    def __init__(self, scene: Scene, files: Path) -> None:
        self.scene = scene
        self.files = files
        self.objects = named(scene)
        self.cookies = sessions(scene.shop)

    def address(self, name: str, line: Row) -> str:
        """Return the address of a line."""
        parts = {part: self.objects[what] for part, what in line.names.items()}
        return reverse(f"cases:{name}", kwargs=parts)

    def send(self, kind: str, method: str, address: str, body: dict[str, Any]) -> HttpResponse:
        """Send one request as somebody of this kind, and take back what it did."""
        with transaction.atomic():
            if kind == BENCH:
                unlock(self.scene.shop)
            client = browser(self.cookies[kind])
            if method == "GET":
                answer: Any = client.get(address)
            elif method == "POST":
                answer = client.post(address, body)
            else:
                answer = client.generic(method, address)
            if answer.streaming:
                whole = HttpResponse(b"".join(answer.streaming_content), headers=answer.headers)
                whole.status_code = answer.status_code
                answer = whole
            transaction.set_rollback(True)
        return answer  # type: ignore[no-any-return]

    def body(self, line: Row) -> dict[str, Any]:
        """Return what is posted at a line."""
        told = {field: self.objects.get(what, what) for field, what in line.body.items()}
        return {"submission_id": str(uuid.uuid4()), **told}


@pytest.fixture(scope="module")
def house(
    django_db_setup: None,
    django_db_blocker: DjangoDbBlocker,
    tmp_path_factory: pytest.TempPathFactory,
) -> Iterator[Grid]:
    """The scene, made once for this module; what each test does in it is taken back."""
    files = tmp_path_factory.mktemp("files")
    quick = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with (
        django_db_blocker.unblock(),
        transaction.atomic(),
        time_machine.travel(NOW, tick=False),
        override_settings(MEDIA_ROOT=files, PASSWORD_HASHERS=quick),
    ):
        made = Grid(make_scene(make_shop()), files)
        yield made
        transaction.set_rollback(True)


@pytest.fixture
def grid(house: Grid, settings: Any) -> Iterator[Grid]:
    settings.MEDIA_ROOT = house.files
    with time_machine.travel(NOW, tick=False):
        yield house


def verdict(answer: HttpResponse) -> str:
    """Say how somebody was received: ``in``, ``hidden`` (404), ``door`` (led to sign in), ``keyed``
    (only a token opens it)."""
    if answer.status_code == 401:
        return "keyed"
    if answer.status_code == 404:
        return "hidden"
    if answer.status_code in {302, 303}:
        where = answer["Location"].split("?")[0]
        if where in {reverse("cases:sign-in"), reverse("cases:bench-names")}:
            return "door"
    return "in" if answer.status_code < 400 or answer.status_code in {409, 422} else "fault"


def expected(kind: str, line: Row) -> str:
    """Say how somebody of this kind should be received at a line."""
    if kind in line.who:
        return "in"
    return "door" if kind in {NOBODY, TABLET} and not line.hidden else "hidden"


@pytest.mark.parametrize("kind", KINDS)
def test_everybody_is_received_as_the_tables_say(grid: Grid, kind: str) -> None:
    wrong = []
    for name, lines in ROWS.items():
        for line in lines:
            address = grid.address(name, line)
            for method in methods_of(name):
                answer = grid.send(kind, method, address, grid.body(line))
                was, should = verdict(answer), expected(kind, line)
                if line.led and kind in line.who and was in {"in", "door", "hidden", "keyed"}:
                    continue
                if was != should:
                    wrong.append(f"{method} {address} ({name}): {was} {answer.status_code}, "
                                 f"should be {should}")  # fmt: skip

    assert wrong == [], "\n".join(wrong)


def test_a_pin_opens_the_bench_and_nothing_of_other_roles(grid: Grid) -> None:
    mara = Person.objects.get(pk=grid.scene.shop.people["mara"].pk)
    rows(
        lambda record: {
            "p": record.change(mara, is_manager=True, is_desk=True, is_dentist=True),
            "m": record.create(PracticeMember, person=mara, practice=grid.scene.shop.practice),
        }
    )
    wrong = []
    for name, lines in ROWS.items():
        for method in methods_of(name):
            answer = grid.send(BENCH, method, grid.address(name, lines[0]), grid.body(lines[0]))
            if verdict(answer) == "in" and BENCH not in lines[0].who:
                wrong.append(f"{method} {name}")

    assert wrong == []


def test_other_methods_are_refused(grid: Grid) -> None:
    wrong = []
    for name, lines in ROWS.items():
        address = grid.address(name, lines[0])
        for method in set(METHODS) - set(methods_of(name)):
            status = grid.send("manager", method, address, {}).status_code
            if status != 405:
                wrong.append(f"{method} {address}: {status}")

    assert wrong == []


def read(answer: HttpResponse) -> str:
    """Return everything that an answer says, as people read it."""
    if answer.get("Content-Type", "").startswith("application/pdf"):
        return _pdf_text(answer.content)
    if answer.get("Content-Type", "").startswith("image/"):
        return ""
    text = html.unescape(answer.content.decode())
    return re.sub(r"\s+", " ", text) + " " + str(dict(answer.items()))


def _pdf_text(data: bytes) -> str:
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    try:
        pages = (page.get_textpage().get_text_range() for page in document)
        return re.sub(r"\s+", " ", " ".join(pages))
    finally:
        document.close()


def _print_the_note(grid: Grid) -> None:
    """Let the desk print the delivery note of the box, as it does before the van comes."""
    assert grid.scene.box is not None
    client = browser(grid.cookies["desk"])
    where = reverse("cases:box-note", args=[grid.scene.box.number])
    assert client.post(where, {"submission_id": str(uuid.uuid4())}).status_code in {302, 303}


def _said(grid: Grid, kind: str) -> dict[str, str]:
    """Return everything that somebody of this kind is ever answered, by method and address."""
    said = {}
    for name, lines in ROWS.items():
        for line in lines:
            address = grid.address(name, line)
            for method in methods_of(name):
                said[f"{method} {address}"] = read(
                    grid.send(kind, method, address, grid.body(line))
                )
    return said


@pytest.mark.parametrize("kind", sorted(PORTAL))
def test_nothing_of_the_lab_or_of_others_reaches_a_practice(grid: Grid, kind: str) -> None:
    _print_the_note(grid)
    secrets = lab_only(grid.scene)
    if kind == "stranger":
        secrets |= {c: case.patient_ref for c, case in grid.scene.cases.items() if c != "other"}
        secrets |= {"dentist": "Dr Lind", "practice": grid.scene.shop.practice.name}
    else:
        secrets |= of_others(grid.scene)
    said = _said(grid, kind)

    # What was posted or asked for stands in the address; it is told apart from what is answered.
    leaks = [
        f"{what} in {where}: {secret}"
        for where, text in said.items()
        for what, secret in secrets.items()
        if secret in text.replace(where.split(" ", 1)[1], "")
    ]

    assert leaks == []
    assert "Q-1201" in said["GET /practice/"] or kind == "stranger"


@pytest.mark.parametrize("kind", [NOBODY, TABLET])
def test_nobody_reads_a_word_about_patients_before_signing_in(grid: Grid, kind: str) -> None:
    references = {case.patient_ref for case in grid.scene.cases.values()}

    told = [
        f"{reference} in {where}"
        for where, text in _said(grid, kind).items()
        for reference in references
        if reference in text
    ]

    assert told == []


def test_leak_test_would_find_a_leak(grid: Grid) -> None:
    case = grid.scene.case("bench")
    page = read(grid.send("desk", "GET", reverse("cases:case", args=[case.number]), {}))

    found = {what for what, secret in lab_only(grid.scene).items() if secret in page}

    assert {"internal note", "concession", "name of mara", "promise", "photograph"} <= found


def test_groups_name_kinds_that_exist() -> None:
    for name, lines in ROWS.items():
        for line in lines:
            assert line.who <= EVERYBODY, name
