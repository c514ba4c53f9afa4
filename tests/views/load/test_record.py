"""The pages of a bath's record: sent, confirmed, judged, decided; nothing typed is lost."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
import time_machine
from django.conf import settings as django_settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from openpyxl import Workbook
from PIL import Image

from cases.models import BathRecord
from cases.services.cure_limits import change_cure_limits
from tests.bath_records import (
    BEGAN,
    LAYOUTS,
    celsius,
    iso_csv,
    make_load,
    points_csv,
    table,
    typed,
    workbook,
)
from tests.factories import NOW, Shop, make_shop, rows

pytestmark = pytest.mark.django_db

PROBE = {"probe_at": "bath", "probe": "A"}


@pytest.fixture
def shop() -> Any:
    with time_machine.travel(NOW, tick=False):
        yield make_shop()


def client_of(shop: Shop, who: str = "mara") -> Client:
    client = Client()
    user = shop.people[who].user
    assert user is not None
    client.force_login(user)
    return client


def post_file(client: Client, data: bytes, name: str = "logger.csv", **more: Any) -> Any:
    body = {**PROBE, "file": SimpleUploadedFile(name, data), **more}
    return client.post(reverse("cases:bath-record-new", args=[7]), body)


def choice(page: Any, form: str = "iso") -> dict[str, str]:
    """Return what a person chooses on the page: the form, and the first temperature offered."""
    entries = page.context["form"]
    times = [value for value, _words in entries.fields["time"].choices]
    heats = [value for value, _words in entries.fields["heat"].choices]
    time = next(value for value in times if value.startswith(f"{form}|"))
    return {**PROBE, "time": time, "heat": heats[0]}


def stored(client: Client) -> list[Path]:
    return [p for p in Path(django_settings.MEDIA_ROOT).glob("bath/*/*") if p.is_file()]


def through(shop: Shop, data: bytes, form: str = "iso", name: str = "logger.csv") -> BathRecord:
    """Take a file through all pages as a technician."""
    client = client_of(shop)
    sent = post_file(client, data, name)
    assert sent.status_code == 303, sent.context["form"].errors
    page = client.get(sent["Location"])
    body = {**choice(page, form), "began_on": "2026-12-08", "began_at": "22:30"}
    kept = client.post(sent["Location"], body)
    assert kept.status_code == 303, kept.context["form"].errors
    assert client.get(kept["Location"]).status_code == 200
    return BathRecord.objects.get()


@pytest.mark.parametrize("layout", LAYOUTS)
def test_every_layout_goes_the_whole_way(shop: Shop, layout: str) -> None:
    make_load(shop)
    header, time, cell, comma, form = LAYOUTS[layout]

    row = through(shop, table(header, time, cell, comma=comma), form)

    assert row.verdict["verdict"] == "complete"
    assert row.started.startswith(("2026-12-08T22:30:00+01:00", "2026-12-08T21:30:00+00:00"))
    assert (row.file_name, row.by) == ("logger.csv", shop.people["mara"])


@pytest.mark.parametrize(
    ("data", "form"),
    [(workbook(), "iso"), (workbook(apart=True), "ymd+"), (workbook(rows_above=2), "iso")],
    ids=["dates", "apart", "notes-above"],
)
def test_workbooks_go_the_whole_way(shop: Shop, data: bytes, form: str) -> None:
    make_load(shop)

    row = through(shop, data, form, "logger.xlsx")

    assert row.verdict["verdict"] == "complete"


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "cp1252"])
def test_every_encoding_goes_the_whole_way(shop: Shop, encoding: str) -> None:
    make_load(shop)
    header, time, cell, comma, form = LAYOUTS["comma"]

    row = through(shop, table(header, time, cell, comma=comma).decode().encode(encoding), form)

    assert row.verdict["verdict"] == "complete"


def test_typed_readings_go_the_whole_way(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)

    sent = client.post(reverse("cases:bath-record-new", args=[7]), {**PROBE, "typed": typed()})
    page = client.get(sent["Location"])
    kept = client.post(sent["Location"], {**choice(page, "clock"), "began_on": "2026-12-08"})

    assert kept.status_code == 303
    assert BathRecord.objects.get().how == "typed"


def png() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 40), "#c8b9a0").save(out, "PNG")
    return out.getvalue()


def packed(**parts: bytes) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return out.getvalue()


BOMB = packed(**{"[Content_Types].xml": b"<Types/>", "xl/a.xml": b" " * (130 * 1024 * 1024)})
BAD: dict[str, tuple[bytes, str]] = {
    "picture": (png(), "This is a picture, whatever its name says"),
    "empty-lines": (b"\n\n", "The file is empty"),
    "one-row": (b"time,C\n2026-12-08 22:30,23", "fewer than two rows"),
    "words": (b"nothing to see here", "No columns were found"),
    "backwards": (points_csv([(0, 23), (200, 60), (5, 70), (9, 74)]), "backwards at reading 3"),
    "bomb": (BOMB, "This workbook is too large"),
    "zip": (packed(**{"a.csv": iso_csv()}), "This is a packed folder"),
    "broken": (packed(**{"[Content_Types].xml": b"<"}), "This workbook cannot be read"),
    "truncated": (workbook()[:2000], "This workbook cannot be read"),
    "old": (b"\xd0\xcf\x11\xe0" + bytes(600), "a workbook of the old kind"),
    "many": (b"time,C\n" + b"2026-12-08T22:30:00,23\n" * 300_001, "more than 300000 rows"),
    "five-million": (b"s,C\n" + b"1,7\n" * 5_000_000, "more than 300000 rows"),
    "csv-picture": (png(), "Send the logger's record as CSV or XLSX"),
    "pdf": (b"%PDF-1.4 record,of,a\n", "no table of text"),
}


@pytest.mark.parametrize("what", BAD)
def test_what_is_no_record_is_refused_beside_its_field(
    shop: Shop, settings: Any, tmp_path: Path, what: str
) -> None:
    settings.MEDIA_ROOT = tmp_path
    make_load(shop)
    client = client_of(shop)
    data, sentence = BAD[what]

    answer = post_file(client, data)

    assert answer.status_code == 422
    assert sentence in " ".join(answer.context["form"].errors["file"])
    assert stored(client) == []
    assert not BathRecord.objects.exists()


def test_too_large_a_file_is_refused(shop: Shop, settings: Any) -> None:
    make_load(shop)
    settings.UPLOAD_MAX_BYTES = 1000

    answer = post_file(client_of(shop), iso_csv())

    assert answer.status_code in {413, 422}
    assert not BathRecord.objects.exists()


@pytest.mark.parametrize(
    ("lines", "sentence"),
    [
        ("23:50 23\n24:10 50\n", "Line 2, “24:10 50”: no clock shows that time. Mend the line"),
        ("22:30 23\n21:10 50\n", "put the readings in order, oldest first, and send them again"),
    ],
)
def test_typed_times_that_no_clock_shows_are_said(shop: Shop, lines: str, sentence: str) -> None:
    make_load(shop)

    answer = client_of(shop).post(
        reverse("cases:bath-record-new", args=[7]), {**PROBE, "typed": lines}
    )

    assert sentence in answer.context["form"].errors["typed"][0]


def test_a_drawing_is_a_picture_whatever_its_name_says(shop: Shop) -> None:
    make_load(shop)
    drawing = b'<?xml version="1.0"?>\n<svg width="4" height="4" viewBox="0,0,4,4"></svg>\n'

    assert (
        "This is a picture" in post_file(client_of(shop), drawing).context["form"].errors["file"][0]
    )


def test_a_wrong_line_is_named_and_what_was_typed_stays(shop: Shop) -> None:
    make_load(shop)

    answer = client_of(shop).post(
        reverse("cases:bath-record-new", args=[7]), {**PROBE, "typed": "22:30 23\n22:4x 50\n"}
    )

    assert answer.status_code == 422
    assert "Line 2, “22:4x 50”, is no reading" in answer.content.decode()
    assert "22:4x 50" in answer.context["form"]["typed"].value()


def test_neither_or_both_is_refused(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)

    neither = client.post(reverse("cases:bath-record-new", args=[7]), PROBE)
    both = post_file(client, iso_csv(), typed=typed())

    assert "file" in neither.context["form"].errors
    assert "typed" in both.context["form"].errors


LATER: dict[str, tuple[bytes, str]] = {
    "another-day": (iso_csv(BEGAN + timedelta(days=3)), "another day or another bath"),
    "letters": (iso_csv().replace(b"74.0", b"7x.0", 1), "“7x.0” is no temperature"),
    "no-bath": (points_csv([(0, 23), (9, 300), (20, 74)]), "which no water bath does"),
    "back": (points_csv([(0, 23), (20, 60), (15, 70), (30, 74)]), "unless the clock was put back"),
}


@pytest.mark.parametrize("what", LATER)
def test_what_cannot_be_judged_keeps_nothing_but_the_file(shop: Shop, what: str) -> None:
    make_load(shop)
    client = client_of(shop)
    data, sentence = LATER[what]
    sent = post_file(client, data)
    assert sent.status_code == 303, sent.context["form"].errors

    body = choice(client.get(sent["Location"]))
    answer = client.post(sent["Location"], body)

    assert answer.status_code == 422
    assert sentence in " ".join(chain.from_iterable(answer.context["form"].errors.values()))
    assert answer.context["form"]["time"].value() == body["time"]
    assert not BathRecord.objects.exists()
    assert client.get(sent["Location"]).status_code == 200


def test_the_page_offers_fahrenheit_and_keeps_nothing_of_a_bath_at_165_degrees(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)
    hot = points_csv([(m, round(celsius(m) * 1.8 + 32, 1)) for m in range(0, 515, 5)])
    sent = post_file(client, hot)
    page = client.get(sent["Location"])
    heats = [value for value, _words in page.context["form"].fields["heat"].choices]

    as_celsius = client.post(sent["Location"], {**choice(page), "heat": "1|C"})
    as_fahrenheit = client.post(sent["Location"], {**choice(page), "heat": "1|F"})

    assert heats == ["1|F", "1|C"]
    assert page.context["form"]["heat"].value() is None
    assert "are these degrees Fahrenheit?" in page.content.decode()
    assert as_celsius.status_code == 422
    assert "no water bath does" in as_celsius.context["form"].errors["heat"][0]
    assert as_fahrenheit.status_code == 303
    assert BathRecord.objects.get().verdict["verdict"] == "complete"


def test_the_page_names_a_lone_bad_reading_and_offers_to_leave_it_out(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)
    data = points_csv([(m, 999.0 if m == 100 else celsius(m)) for m in range(0, 514, 2)])
    sent = post_file(client, data)
    page = client.get(sent["Location"])
    body = choice(page)

    refused = client.post(sent["Location"], body)
    kept = client.post(sent["Location"], {**body, "leave_out": "on"})

    text = page.content.decode()
    fact = "Row 52 (2026-12-09T00:10:00) says “999.0” between “74.0” and “74.0”"
    assert fact in text
    assert "Leave out row 52 as a bad reading" in text
    assert "Fahrenheit" not in text
    assert refused.status_code == 422
    assert refused.context["form"].errors["leave_out"][0].startswith(fact)
    assert kept.status_code == 303
    said = client.get(kept["Location"]).content.decode()
    assert "It is left out, as whoever read the record said." in said
    assert BathRecord.objects.get().layout["leave_out"] == [52]


def test_each_way_to_read_the_instants_says_how_long_the_record_then_is(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)
    data = "\n".join(["time,T (C)", *(f"{60 * m},{celsius(m)}" for m in range(0, 511, 10))])

    page = client.get(post_file(client, data.encode())["Location"])

    assert [words for _value, words in page.context["form"].fields["time"].choices] == [
        "time: elapsed seconds; the first is 0, the last 8:30 h later",
        "time: elapsed minutes; the first is 0, the last 510:00 h later",
    ]


def test_a_file_without_bad_readings_offers_to_leave_out_nothing(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)

    page = client.get(post_file(client, iso_csv())["Location"])

    assert "leave_out" not in page.context["form"].fields


def test_a_row_of_a_workbook_is_named_by_its_number_in_the_sheet(shop: Shop) -> None:
    make_load(shop)
    book = Workbook()
    sheet = book.active
    assert sheet is not None
    lines = points_csv([(m, 999.0 if m == 100 else celsius(m)) for m in range(0, 514, 2)])
    head, *body = lines.decode().splitlines()
    sheet.append(["Logger 7"])
    sheet.append([])
    sheet.append(head.split(","))
    for line in body:
        at, heat = line.split(",")
        sheet.append([at, float(heat)])
    out = io.BytesIO()
    book.save(out)
    client = client_of(shop)

    page = client.get(post_file(client, out.getvalue(), "logger.xlsx")["Location"])

    assert "Row 54 (2026-12-09T00:10:00) says “999” between" in page.content.decode()
    assert sheet["B54"].value == 999.0


def test_many_faults_of_a_probe_are_named_beside_the_file(shop: Shop) -> None:
    make_load(shop)
    data = points_csv(
        [(m, 999.0 if m in {100, 200, 300} else celsius(m)) for m in range(0, 514, 2)]
    )

    answer = post_file(client_of(shop), data)

    assert answer.context["form"].errors["file"] == [
        "Row 52: “999.0” is a temperature that no bath has. Take such rows out of the file, or "
        "send the record of a sound probe."
    ]


def test_a_slip_of_the_key_is_named_by_its_line(shop: Shop) -> None:
    make_load(shop)
    lines = "22:30 23.0\n22:45 52.5\n23:00 741\n"

    answer = client_of(shop).post(
        reverse("cases:bath-record-new", args=[7]), {**PROBE, "typed": lines}
    )

    assert answer.status_code == 422
    assert (
        "Line 3, “23:00 741”: no water bath has that" in answer.context["form"].errors["typed"][0]
    )
    assert answer.context["form"]["typed"].value() == lines


def test_rows_without_a_reading_are_counted_on_the_page(shop: Shop) -> None:
    make_load(shop)

    row = through(shop, iso_csv().replace(b",74.0", b",err", 2))

    page = client_of(shop).get(reverse("cases:bath-record", args=[7, row.pk])).content.decode()
    assert "2 rows without a reading were passed over" in page


def test_the_pages_say_that_a_table_is_read_from_its_end(shop: Shop) -> None:
    make_load(shop)
    header, *lines = iso_csv().splitlines()
    client = client_of(shop)

    sent = post_file(client, b"\n".join([header, *reversed(lines)]))
    page = client.get(sent["Location"])
    kept = client.post(sent["Location"], choice(page))

    text = page.content.decode()
    assert "The newest row stands first, so the rows are read from the last to the first:" in text
    assert "the first reading is of 2026-12-08, 22:30:00" in text
    assert "in °C; the first is 23" in text
    assert page.context["form"]["time"].value() == "iso|0"
    assert "the newest row stood first" in client.get(kept["Location"]).content.decode()


def test_day_and_month_are_asked_and_nothing_is_chosen_beforehand(shop: Shop) -> None:
    make_load(shop)
    client = client_of(shop)
    data = table("at,T (C)", "{at:%d/%m/%Y %H:%M},", "{c}", began=BEGAN)
    sent = post_file(client, data.replace(b"09/12/2026", b"08/12/2026", 0))

    page = client.get(sent["Location"])

    assert "What only you can tell" in page.content.decode()
    assert page.context["form"]["time"].value() is None
    assert client.post(sent["Location"], PROBE).status_code == 422


def decided_page(shop: Shop) -> tuple[BathRecord, str]:
    make_load(shop)
    row = through(shop, iso_csv())
    return row, reverse("cases:bath-record", args=[7, row.pk])


def test_the_page_says_verdict_stages_chart_and_reader(shop: Shop) -> None:
    _row, address = decided_page(shop)

    text = client_of(shop, "noor").get(address).content.decode()

    assert "tag-done" in text
    assert "of the 480 equivalent minutes at 74 °C" in text
    assert 'role="img"' in text
    assert "<title" in text
    assert "The chart as a table" in text
    assert "Mara" in text
    assert "says nothing of pores" in text
    assert "Who may countersign decides" in text


def test_the_page_says_the_limits_of_its_day_and_not_those_of_today(shop: Shop) -> None:
    _row, address = decided_page(shop)
    values = {"complete_percent": 99.0}
    change_cure_limits(shop.envelope("pavo"), values=values, reason="The leaflet says so.")

    text = client_of(shop).get(address).content.decode()

    assert "complete from 98\u00a0%, doubtful from 85\u00a0% of what a stage needs" in text


def test_a_decision_is_made_on_the_page(shop: Shop) -> None:
    row, address = decided_page(shop)
    client = client_of(shop, "oren")

    refused = client.post(address, {"decision": "inspect", "words": ""})
    done = client.post(address, {"decision": "inspect", "words": "A dip at four."}, follow=True)

    assert refused.status_code == 422
    assert "words" in refused.context["form"].errors
    assert "A dip at four." in done.content.decode()
    row.refresh_from_db()
    assert row.decision == "inspect"


def test_an_old_verdict_says_its_model_and_is_not_made_anew(shop: Shop) -> None:
    row, address = decided_page(shop)
    rows(lambda record: {"row": record.change(row, model_version="cure-dose 0")})

    text = client_of(shop).get(address).content.decode()

    assert "This verdict was made with model cure-dose 0" in text


def test_the_raw_file_comes_back_as_it_was_for_the_lab_only(shop: Shop) -> None:
    row, _address = decided_page(shop)
    raw = reverse("cases:bath-record-raw", args=[7, row.pk])

    answer = client_of(shop, "noor").get(raw)

    assert answer.content == iso_csv()
    assert "attachment" in answer["Content-Disposition"]
    assert client_of(shop, "lind").get(raw).status_code == 404


def test_a_record_is_found_under_its_own_load_only(shop: Shop) -> None:
    row, _address = decided_page(shop)
    make_load(shop, number=8)

    assert client_of(shop).get(f"/loads/8/record/{row.pk}/").status_code == 404
    assert client_of(shop).get(f"/loads/7/record/{'0' * 64}/").status_code == 404


def test_a_cut_is_drawn_and_offers_to_extend(shop: Shop) -> None:
    make_load(shop, state="running")
    cut = [(m, celsius(m)) for m in range(0, 200, 2)] + [(m, 60.0) for m in range(230, 260, 2)]

    row = through(shop, points_csv(cut))
    page = client_of(shop, "oren").get(reverse("cases:bath-record", args=[7, row.pk]))

    assert "extend" in dict(page.context["form"].fields["decision"].choices)
    assert "chart-gap" in page.content.decode()
    assert "Gap in the record" in page.content.decode()
