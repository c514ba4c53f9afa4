"""A logger's file as rows of text: CSV in any common encoding, a workbook, or typed readings.

Nothing is stored here. Whatever is no table is refused in one sentence with the next step.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from itertools import islice
from typing import Any, Final

from django.utils.translation import gettext as _

from cases.domain.cure.cells import MOST_ROWS, rejoined, split_cells
from cases.domain.cure.quality import FAHRENHEIT_ABOVE_C
from cases.domain.cure.samples import COLDEST_C
from cases.domain.cure.time_columns import Rows
from cases.domain.cure.trace import recognise

# A row of a sheet is some 150 bytes of XML: three hundred thousand of them and the strings stay
# well below. Judgement: more than this unpacked is no record of a bath.
MOST_UNPACKED: Final = 120 * 1024 * 1024
MOST_PARTS: Final = 500
MOST_SHEETS: Final = 10
MOST_COLUMNS: Final = 60
_PICTURES: Final = (b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"BM", b"II*\x00", b"MM\x00*", b"RIFF")
_TYPED: Final = re.compile(r"(\d{1,2}[:.]\d{2})\s*[;,\t ]\s*([+-]?\d+(?:[.,]\d+)?)\s*(?:°?\s*C)?")


class NoTable(ValueError):
    """What was given is no table of readings; the sentence says what to do."""


def rows_of(data: bytes, *, typed: bool = False) -> Rows:
    """Return the rows of a file, or of typed lines.

    Raises
    ------
    NoTable
        It is neither CSV nor a workbook, is too large, or holds no table of readings.
    """
    if typed:
        return _typed(data.decode("utf-8"))
    try:
        rows = _workbook(data) if data.startswith(b"PK") else rejoined(split_cells(_text(data)))
    except NoTable:
        raise
    except ValueError as error:
        raise NoTable(str(error)) from None
    return rows


def _text(data: bytes) -> str:
    if not data.strip():
        raise NoTable(_("The file is empty. Export the record again."))
    if data.startswith(_PICTURES) or b"<svg" in data[:2000].lower():
        raise NoTable(
            _("This is a picture, whatever its name says. Send the logger's record as CSV or XLSX.")
        )
    if data.startswith(b"\xd0\xcf\x11\xe0"):
        raise NoTable(_("This is a workbook of the old kind. Save it as XLSX or CSV."))
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        # Loggers' programs on older machines write so; every byte reads as something there.
        return data.decode("cp1252", errors="replace")


def _typed(text: str) -> Rows:
    rows = [["time", "T (C)"]]
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        match = _TYPED.fullmatch(line.strip())
        if match is None:
            raise NoTable(
                _(
                    "Line %(number)d, “%(line)s”, is no reading. Write the time and the degrees "
                    "Celsius, like 22:30 74.2."
                )
                % {"number": number, "line": line.strip()[:40]}
            )
        hour, minute = map(int, re.split("[:.]", match[1]))
        if hour > 23 or minute > 59:
            raise NoTable(
                _(
                    "Line %(number)d, “%(line)s”: no clock shows that time. Mend the line; after "
                    "midnight the hours begin at 0:00 again."
                )
                % {"number": number, "line": line.strip()[:40]}
            )
        degrees = match[2].replace(",", ".")
        if not COLDEST_C <= float(degrees) <= FAHRENHEIT_ABOVE_C:
            raise NoTable(
                _(
                    "Line %(number)d, “%(line)s”: no water bath has that temperature. Mend the "
                    "line, or leave it out; degrees Fahrenheit are read from a file only."
                )
                % {"number": number, "line": line.strip()[:40]}
            )
        rows.append([match[1].replace(".", ":"), degrees])
    if len(rows) < 3:
        raise NoTable(_("Type two readings or more, each on its own line, like 22:30 74.2."))
    return rows


def _workbook(data: bytes) -> Rows:
    """Return the first sheet that is a table of readings."""
    from openpyxl import load_workbook

    _check_size(data)
    try:
        book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    except Exception as error:  # the library raises whatever a broken part makes it stumble over
        raise _broken() from error
    refused: ValueError | None = None
    try:
        for sheet in book.worksheets[:MOST_SHEETS]:
            sheet.reset_dimensions()  # what a file says of its size is not believed
            rows = _sheet(sheet.iter_rows(max_col=MOST_COLUMNS))
            try:
                recognise(rows)
            except ValueError as error:
                refused = refused or error
                continue
            return rows
    finally:
        book.close()
    raise NoTable(str(refused)) if refused else _broken()


def _check_size(data: bytes) -> None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            parts = packed.infolist()
    except (zipfile.BadZipFile, ValueError, OSError) as error:
        raise _broken() from error
    if not any(part.filename == "[Content_Types].xml" for part in parts):
        raise NoTable(_("This is a packed folder. Unpack it and send the one file in it."))
    # A part never unpacks to more than it declares: the reader stops there.
    if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
        raise NoTable(_("This workbook is too large. Save the sheet with this cure only as CSV."))


def _broken() -> NoTable:
    return NoTable(_("This workbook cannot be read. Save the sheet with the readings as CSV."))


def _sheet(lines: Iterable[Iterable[Any]]) -> Rows:
    left = iter(lines)
    try:
        # Also rows without any text: they are named by their number in the sheet.
        rows = [_row(line) for line in islice(left, MOST_ROWS)]
        more = next(left, None) is not None
    except Exception as error:  # as above: a sheet is read only now, piece by piece
        raise _broken() from error
    if more:
        raise NoTable(
            _("The file has more than %(most)d rows. Export the hours of this cure only.")
            % {"most": MOST_ROWS}
        )
    return rows


def _row(line: Iterable[Any]) -> list[str]:
    cells = [_cell(cell) for cell in line]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _cell(cell: Any) -> str:
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, datetime):
        # A spreadsheet's instant is a fraction of a day, true to some microseconds only.
        near = (value + timedelta(milliseconds=500)).replace(microsecond=0)
        whole_day = "h" not in str(cell.number_format).lower()
        return near.date().isoformat() if whole_day else near.isoformat()
    if isinstance(value, date | time):
        return value.isoformat()[: 10 if isinstance(value, date) else 8]
    if isinstance(value, timedelta):
        seconds = round(value.total_seconds())
        return f"{seconds // 3600}:{seconds // 60 % 60:02}:{seconds % 60:02}"
    return str(value).strip()
