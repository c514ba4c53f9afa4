"""Tables of loggers in many layouts: recognised, never guessed, refused in one sentence."""

from __future__ import annotations

from datetime import date

import pytest

from cases.domain.cure.cells import split_cells
from cases.domain.cure.time_columns import Rows, TimeColumn
from cases.domain.cure.trace import Reading, Recognised, read, recognise

MINUTES = range(0, 180, 10)


def celsius(minute: int) -> float:
    return round(min(74.0, 23 + 1.7 * minute), 1)


def stamp(pattern: str, minute: int, day: int = 25) -> str:
    """Write the instant so many minutes after 22:30 of that day of December 2026."""
    at = 22 * 60 + 30 + minute
    weekday = date(2026, 12, day + at // 1440).strftime("%A")
    return pattern.format(
        w=weekday[:3], W=weekday,
        d=day + at // 1440, H=at // 60 % 24, M=at % 60, h=(at // 60 - 1) % 12 + 1,
        p="AM" if at // 60 % 24 < 12 else "PM", e=minute, hh=minute // 60, mm=minute % 60,
        s=minute * 60, u=1_798_237_800 + minute * 60, x=46_381.9375 + minute / 1440,
    )  # fmt: skip


def table(header: str, time: str, cell: str, comma: bool = False, day: int = 25) -> str:
    rows = [header]
    for n, minute in enumerate(MINUTES):
        heat = cell.format(c=celsius(minute), f=round(celsius(minute) * 1.8 + 32, 2), n=n + 1)
        rows.append(stamp(time, minute, day) + (heat.replace(".", ",") if comma else heat))
    return "\n".join(rows)


LAYOUTS = {
    "iso": ("time,temperature C", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}", False, "iso"),
    "comma": ("Zeit;Temp (°C)", "{d:02}.12.2026 {H:02}:{M:02};", "{c}", True, "dmy"),
    "american": ("When,Bath (°F)", "12/{d:02}/2026 {h:02}:{M:02} {p},", "{f}", False, "mdy"),
    "apart": ("Date\tTime\t°C", "{d}/12/2026\t{H:02}:{M:02}:00\t", "{c}", False, "dmy+"),
    "words": ("at;T [C]", "{d} Dec 2026 {H:02}:{M:02};", "{c}", False, "dmy"),
    "seconds": ("Elapsed s,Probe (C)", "{s},", "{c}", False, "s"),
    "unix": ("stamp,Probe (C)", "{u},", "{c}", False, "unix"),
    "sheet": ("stamp;Probe (C)", "{x};", "{c}", True, "sheet"),
    "slashes": ("at|deg C|rh %", "2026/12/{d:02} {H:02}:{M:02}|", "{c}|40", False, "ymd"),
    "zone": ("when,T (C)", "2026-12-{d:02} {H:02}:{M:02}:00 UTC,", "{c}", False, "iso"),
    "month-first": ("when;T (C)", "Dec {d}, 2026 {h:02}:{M:02} {p};", "{c}", False, "mdy"),
    "weekday": ("when;T (C)", "{w} 2026-12-{d:02} {H:02}:{M:02};", "{c}", False, "ymd"),
    "in-full": ("when;T (C)", "{W}, {d} December 2026 {H:02}:{M:02};", "{c}", False, "dmy"),
    "german": ("Zeit;T (°C)", "{d}. Dez. 2026 {H:02}:{M:02};", "{c}", True, "dmy"),
    "dots": ("Datum;Zeit;T (°C)", "{d}.12.2026;{H:02}.{M:02}.00;", "{c}", True, "dmy+"),
}


def the_cycle(rows: Rows, form: str) -> tuple[Recognised, TimeColumn, Reading]:
    """Read a table in a form, having looked whether it gives the whole cycle in its order."""
    found = recognise(rows)
    choice = next(way for way in found.times if way.form == form)
    reading = read(rows, found.first_row, choice, found.heats[0])
    assert reading.samples.seconds.tolist() == pytest.approx([m * 60 for m in MINUTES], abs=0.01)
    assert reading.samples.celsius.tolist() == pytest.approx(
        [celsius(m) for m in MINUTES], abs=0.02
    )
    return found, choice, reading


@pytest.mark.parametrize("layout", LAYOUTS)
def test_layouts_are_recognised_and_read(layout: str) -> None:
    header, time, cell, comma, form = LAYOUTS[layout]
    rows = split_cells(table(header, time, cell, comma))

    found, _choice, reading = the_cycle(rows, form)

    assert found.heats[0].stated
    assert reading.started.startswith("2026-12-25T22:30") or form == "s"


def test_day_and_month_are_never_guessed() -> None:
    rows = split_cells(table("at,C (C)", "0{d}/03/2026 {H:02}:{M:02},", "{c}", day=4))

    found = recognise(rows)

    assert {way.form for way in found.times} == {"dmy", "mdy"}
    assert any("more than one way" in question for question in found.questions)


@pytest.mark.parametrize(
    ("head", "row", "columns"),
    [
        ("Time;Date;T (C)", "{H:02}:{M:02}:00;{d}.12.2026;{c}", (1, 0)),
        ("Date;T (C);Time", "{d}.12.2026;{c};{H:02}:{M:02}:00", (0, 2)),
        ("Time;No.;T (C);Date", "{H:02}:{M:02}:00;{e};{c};2026-12-{d}", (3, 0)),
        ("x;" * 14 + "Date;Time;T (C)", "-;" * 14 + "{d}.12.2026;{H:02}:{M:02};{c}", (14, 15)),
    ],
    ids=["time-first", "apart", "last", "far-right"],
)
def test_a_date_finds_its_time_of_day_in_any_order_of_columns(
    head: str, row: str, columns: tuple[int, int]
) -> None:
    lines = [stamp(row.replace("{c}", str(celsius(minute))), minute) for minute in MINUTES]
    rows = split_cells("\n".join([head, *lines]))

    found, _choice, reading = the_cycle(rows, recognise(rows).times[0].form)

    assert found.times[0].columns == columns
    assert reading.started == "2026-12-25T22:30:00"


def ways(*cells: str) -> list[str]:
    """Return the forms in which a column of these cells can be read."""
    rows = [["at", "T (C)"], *([cell, f"{70 + n}.0"] for n, cell in enumerate(cells))]
    return [way.form for way in recognise(rows).times]


@pytest.mark.parametrize(
    ("cells", "forms"),
    [
        (("Tue 08/12/2026 22:30", "Tue 08/12/2026 22:31"), ["dmy"]),
        (("Sat 08/12/2026 22:30", "Sat 08/12/2026 22:31"), []),
        (("Mi, 12.08.2026 22:30", "Mi, 12.08.2026 22:31"), ["dmy"]),
        (("8. 12. 2026 22.30.00", "8. 12. 2026 22.31.00"), ["dmy", "mdy"]),
        (("08/12/2026 22:30 UTC", "08/12/2026 22:31 UTC"), ["dmy", "mdy"]),
        (("22.30.00", "22.31.00"), ["clock", "h:m:s"]),
        (("22.30", "22.31"), []),
        (("22:30:00 UTC", "22:31:00 UTC"), []),
        (("2026-12-08 22:30 CET", "2026-12-08 22:31 CET"), []),
        (("2026-12-08 22:30+01:00 UTC", "2026-12-08 22:31+01:00 UTC"), []),
        (("1. März 2026 22:30", "1. März 2026 22:31"), ["dmy"]),
    ],
)
def test_names_and_dots_settle_no_more_than_they_say(
    cells: tuple[str, ...], forms: list[str]
) -> None:
    """A zone that has several offsets, or a zone without a day, is no instant."""
    if not forms:
        with pytest.raises(ValueError, match="No column was found that says when"):
            ways(*cells)
        return
    assert ways(*cells) == forms


def test_the_dots_of_a_date_are_no_time_of_day() -> None:
    row = "{d}.12.26;{H:02}:{M:02}:00;"
    found = recognise(split_cells(table("Date;Time;T (C)", row, "{c}", day=12)))

    assert (0,) not in {way.columns for way in found.times}


@pytest.mark.parametrize(
    ("time", "alone"),
    [
        ("{d}.12.2026;{H:02}:{M:02}:00;", False),
        ("25.12.2026;0{hh}:{mm:02}:00;", True),
        ("25.13.2026;{H:02}:{M:02}:00;", True),
    ],
    ids=["time-of-day", "maybe-elapsed", "no-date"],
)
def test_a_time_of_day_beside_its_date_is_not_offered_alone(time: str, alone: bool) -> None:
    """Nobody means it so, and read as elapsed minutes it makes a cure sixty times as short."""
    text = turned(table("Date;Time;T (C)", time, "{c}")) + "\nEnd of data;;\n"
    rows = split_cells(text if time.startswith("{d}") else table("Date;Time;T (C)", time, "{c}"))

    found = recognise(rows)

    assert (bool({way.form for way in found.times} & {"clock", "h:m:s"})) is alone


@pytest.mark.parametrize("names", ["time,T1,T2", "time,-1,T2", "s,1 (C),T2 (C)"])
def test_names_of_probes_with_a_number_in_them_are_no_readings(names: str) -> None:
    lines = [f"{60 * minute},{celsius(minute)},{celsius(minute) - 1:.1f}" for minute in MINUTES]

    found = recognise(split_cells("\n".join([names, *lines])))

    assert found.first_row == 1
    assert len(found.heats) > 1


def test_two_columns_of_the_time_of_day_beside_a_date_are_asked_about() -> None:
    row = "{d}.12.2026;{H:02}:{M:02};{H:02}:{M:02}:30"
    rows = split_cells(table("Date;Local;Other;T (C)", row + ";", "{c}")[:400])

    dated = [way for way in recognise(rows[:9]).times if way.form == "dmy+"]

    assert [way.columns for way in dated] == [(0, 1), (0, 2)]


def test_two_probes_and_no_unit_are_asked_about() -> None:
    rows = split_cells(table("at;one;two", "2026-12-{d:02} {H:02}:{M:02};", "{c};{c}"))

    questions = recognise(rows).questions

    assert any("Which column is the bath: one, two?" in question for question in questions)
    assert any("Celsius or Fahrenheit" in question for question in questions)


@pytest.mark.parametrize(
    ("header", "cell", "units", "asked"),
    [
        ("time,T (C)", "{f}", [("F", False), ("C", True)], True),
        ("time,T (C)", "{c}", [("C", True)], False),
        ("time,T (F)", "{f}", [("F", True)], False),
        ("time,T", "{f}", [("F", False), ("C", False)], False),
    ],
    ids=["hot-in-C", "bath-in-C", "hot-in-F", "unsaid"],
)
def test_fahrenheit_is_offered_where_the_file_says_celsius_of_what_no_bath_is(
    header: str, cell: str, units: list[tuple[str, bool]], asked: bool
) -> None:
    found = recognise(split_cells(table(header, "2026-12-{d:02}T{H:02}:{M:02}:00,", cell)))

    assert [(heat.unit, heat.stated) for heat in found.heats] == units
    assert ("The file says °C for T (C), but goes above 130" in " ".join(found.questions)) is asked
    assert ("does not say whether" in " ".join(found.questions)) is (header == "time,T")


@pytest.mark.parametrize(
    ("time", "forms"),
    [
        ("2026-12-{d:02} {H:02}:{M:02},", ["iso"]),
        ("2026-12-{d:02}T{H:02}:{M:02}:00.2,", ["iso"]),
        ("12/{d:02}/2026 {h:02}:{M:02} {p},", ["dmy"]),
        ("{hh}:{mm:02}:00,", ["clock", "h:m:s"]),
    ],
    ids=["year-first", "fractions", "the-twelfth", "elapsed"],
)
def test_ways_to_read_that_say_the_same_are_one(time: str, forms: list[str]) -> None:
    """Of three parts a span is the same in hours and in minutes; a time of day is not."""
    rows = split_cells(table("at;T (C)".replace(";", ","), time, "{c}", day=12)[:420])

    found = recognise(rows[:9])

    assert [way.form for way in found.times] == forms
    assert bool(found.questions) is (len(forms) > 1)


def test_ways_to_read_stay_apart_while_rows_are_to_come() -> None:
    rows = split_cells(table("at,T (C)", "12/{d:02}/2026 {H:02}:{M:02},", "{c}", day=12))[:6]

    assert {way.form for way in recognise(rows, growing=True).times} == {"dmy", "mdy"}


@pytest.mark.parametrize(
    ("name", "forms"),
    [
        ("Elapsed s", ["s"]), ("sec", ["s"]), ("seconds", ["s"]), ("Elapsed_sec", ["s"]),
        ("elapsedSec", ["s"]), ("Zeit (s)", ["s"]), ("Time [s]", ["s"]), ("Sekunden", ["s"]),
        ("Elapsed min", ["min"]), ("minutes", ["min"]), ("Zeit / min", ["min"]),
        ("Elapsed h", ["h"]), ("hours", ["h"]), ("time (hrs)", ["h"]), ("time_ms", ["ms"]),
        ("Elapsed", ["s", "min", "h"]), ("Time", ["s", "min", "h"]), ("Zeit", ["s", "min", "h"]),
    ],
)  # fmt: skip
def test_a_column_that_says_its_unit_of_time_is_offered_in_that_unit_only(
    name: str, forms: list[str]
) -> None:
    rows = [[name, "T (C)"], *([f"{10 * n}", f"{70 + n}.0"] for n in range(9))]

    found = recognise(rows)

    assert [way.form for way in found.times] == forms
    assert any("more than one way" in asked for asked in found.questions) is (len(forms) > 1)


def turned(text: str) -> str:
    """Return a table with its newest row first."""
    header, *lines = text.splitlines()
    return "\n".join([header, *reversed(lines)])


@pytest.mark.parametrize("layout", sorted(set(LAYOUTS) - {"seconds"}))
def test_a_table_with_the_newest_row_first_is_read_from_its_end(layout: str) -> None:
    header, time, cell, comma, form = LAYOUTS[layout]
    rows = split_cells(turned(table(header, time, cell, comma)) + "\nEnd of record\n")

    found, choice, reading = the_cycle(rows, form)

    assert reading.started.startswith("2026-12-25T22:30")
    assert (choice.from_end, reading.from_end) == (True, True)
    assert rows[found.earliest_row] == rows[-2]
    assert any("The newest row stands first" in question for question in found.questions)


def test_readings_of_one_minute_are_read_from_the_end_too() -> None:
    text = turned(table("at,T (C)", "2026-12-{d:02} {H:02}:{M:02},", "{c}"))
    doubled = [line for line in text.splitlines()[1:] for _twice in range(2)]
    rows = split_cells("\n".join(["at,T (C)", *doubled]))

    found = recognise(rows)

    assert found.times[0].from_end
    assert read(rows, found.first_row, found.times[0], found.heats[0]).samples.end_s == 170 * 60


@pytest.mark.parametrize(
    ("times", "sentence"),
    [
        (
            ["10:40", "10:30", "10:35", "10:20"],
            "no change of the clock explains it: put the",
        ),
        (["14:40", "10:30", "10:31"], "reading 2, and no change of the clock explains it"),
    ],
    ids=["one-step-on", "one-step-back"],
)
def test_rows_out_of_order_are_said_with_what_to_do(times: list[str], sentence: str) -> None:
    lines = [f"2026-12-25 {at},{70 + n}.0" for n, at in enumerate(times)]

    with pytest.raises(ValueError, match=sentence):
        recognise(split_cells("\n".join(["at,T (C)", *lines])))


def test_a_clock_without_a_day_is_not_turned_round() -> None:
    """A timer that counts down looks the same."""
    text = turned(table("time,T (C)", "{H:02}:{M:02}:00,", "{c}")[:200])

    with pytest.raises(ValueError, match="put the readings in order, oldest first"):
        recognise(split_cells(text))


def test_lines_above_and_below_the_table_are_left_out() -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}")
    rows = split_cells("Logger 7,\nBattery 3 V,\n" + text + "\nEnd\n")

    found = recognise(rows)
    reading = read(rows, found.first_row, found.times[0], found.heats[0])

    assert (len(reading.samples.seconds), reading.skipped) == (len(MINUTES), 1)


@pytest.mark.parametrize(
    "above",
    [
        "\n".join(f"Key {n}:\tvalue {n}" for n in range(12)),
        "\n".join(f"{n}\t{3 * n}" for n in range(12)),
        "Logger report\nSerial; 12345\nStart, 2026-12-25 22:30\n---",
    ],
    ids=["keys", "figures", "other-separators"],
)
def test_lines_above_the_table_are_no_readings_even_of_figures(above: str) -> None:
    header, time, cell, comma, form = LAYOUTS["apart"]
    rows = split_cells(above + "\n" + table(header, time, cell, comma))

    found, _choice, reading = the_cycle(rows, form)

    assert rows[found.first_row - 1] == header.split("\t")
    assert reading.skipped == 0


def test_a_short_table_below_many_lines_is_found() -> None:
    rows = split_cells("\n".join(["Key,value"] * 12) + "\ntime,a,C\n10:00,1,23\n10:10,2,40\n")

    assert recognise(rows).first_row == 13


@pytest.mark.parametrize("marks", [",.", ".,"], ids=["point", "comma"])
def test_elapsed_time_may_have_marks_between_its_thousands(marks: str) -> None:
    swap = str.maketrans(",.", marks)
    lines = ["Elapsed s;T (C)"]
    lines += [f"{f'{60 * minute:,.1f}'.translate(swap)};{celsius(minute)}" for minute in MINUTES]

    _found, _choice, reading = the_cycle(split_cells("\n".join(lines)), "s")

    assert reading.samples.end_s == 170 * 60


@pytest.mark.parametrize(
    "cells",
    [["23,0", "23,5", "24,0"], ["1,024.5,23.0", "1,024.6,23.5", "1,025.0,24.0"]],
    ids=["decimal-comma", "thousands"],
)
def test_numbers_that_their_own_comma_parts_are_refused(cells: list[str]) -> None:
    """Read as they stand they would be whole degrees, or the degrees of another column."""
    width = cells[0].count(",")
    head = ["time", "P (hPa)", "T (C)"] if width == 2 else ["time", "T (C)"]
    lines = [f"2026-12-25 22:3{n},{cell}" for n, cell in enumerate(cells)]

    with pytest.raises(ValueError, match="as where a comma inside a number parts it: export"):
        recognise(split_cells("\n".join([",".join(head), *lines])))


@pytest.mark.parametrize(
    "ends",
    [["0", "5", "0", "5"], ["12", "05", "31", "62"], ["12", "95", "31", "62"]],
    ids=["one-figure", "nought", "jumps"],
)
def test_numbers_that_their_own_comma_parts_are_refused_without_a_heading(ends: list[str]) -> None:
    lines = [f"2026-12-25 22:3{n},{70 + n},{end}" for n, end in enumerate(ends)]

    with pytest.raises(ValueError, match="Columns 2 and 3 look like one number that its own comma"):
        recognise(split_cells("\n".join(lines)))


@pytest.mark.parametrize("ends", [["22", "23", "25", "26"], ["1", "1", "1", "1"]])
def test_whole_degrees_of_two_probes_without_a_heading_are_read(ends: list[str]) -> None:
    lines = [f"2026-12-25 22:3{n},{70 + n},{end}" for n, end in enumerate(ends)]

    assert {heat.column for heat in recognise(split_cells("\n".join(lines))).heats} == {1, 2}


def test_typed_readings_tell_the_time_of_day_and_nothing_else() -> None:
    rows = [["time", "T (C)"], ["13:45", "23.0"], ["13:55", "40.0"], ["14:05", "55.0"]]

    assert [way.form for way in recognise(rows, typed=True).times] == ["clock"]
    assert len(recognise(rows).times) > 1


def test_rows_with_more_cells_than_their_heading_are_read_where_no_number_is_parted() -> None:
    rows = split_cells("Logger 7,night\n1,2026-12-25 22:30,23.0\n2,2026-12-25 22:31,24.5\n")

    found = recognise(rows)

    assert [way.form for way in found.times] == ["iso"]
    assert {heat.column for heat in found.heats} == {0, 2}


def test_midnight_without_a_date_goes_on() -> None:
    rows = split_cells(table("time,T (C)", "{H:02}:{M:02}:00,", "{c}"))

    found = recognise(rows)
    clock = next(way for way in found.times if way.form == "clock")

    assert read(rows, found.first_row, clock, found.heats[0]).samples.end_s == 170 * 60


def test_a_letter_in_a_number_names_its_row() -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}")
    rows = split_cells(text.replace("57.0", "5x.0"))

    found = recognise(rows)

    with pytest.raises(ValueError, match=r"Row 4: “5x.0” is no temperature"):
        read(rows, found.first_row, found.times[0], found.heats[0])


def test_rows_are_named_by_their_number_in_the_file_blank_ones_counted() -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}").replace("57.0", "5x.0")
    head, *lines = text.splitlines()
    rows = split_cells("\n".join(["Logger 7", "", head, "", *lines, ",", "End", ""]))

    found = recognise(rows)

    assert (found.first_row, found.heats[0].name) == (4, "T (C)")
    with pytest.raises(ValueError, match=r"Row 7: “5x.0” is no temperature"):
        read(rows, found.first_row, found.times[0], found.heats[0])
    rows[6][1] = "57.0"
    assert read(rows, found.first_row, found.times[0], found.heats[0]).skipped == 1


def test_a_blank_line_after_each_reading_is_no_matter() -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}")

    _found, _choice, reading = the_cycle(split_cells(text.replace("\n", "\r\r\n")), "iso")

    assert reading.skipped == 0


@pytest.mark.parametrize(
    ("time", "wrong"),
    [
        ("2026-12-{d:02}T{H:02}:{M:02}:00,", "2026-12-25T23:1O:00"),
        ("{H:02}:{M:02}:00,", "23:1O:00"),
        ("{d:02}/12/2026,{H:02}:{M:02},", "25/12/2026,23:1O"),
        ("{d:02}.12.2026 {H:02}:{M:02},", ""),
    ],
    ids=["iso", "clock", "apart", "empty"],
)
def test_a_row_that_is_no_instant_is_named(time: str, wrong: str) -> None:
    head = "Date,Time,T (C)" if time.count(",") > 1 else "Time,T (C)"
    lines = table(head, time, "{c}").splitlines()
    lines[5] = f"{wrong},{celsius(40)}"
    said = wrong.replace(",", " ")

    with pytest.raises(ValueError, match=rf"^Row 6: “{said}” is no instant. Mend the file or"):
        recognise(split_cells("\n".join(lines)))


def test_a_row_is_named_only_where_nearly_all_the_others_are_instants() -> None:
    lines = table("Time,T (C)", "{H:02}:{M:02}:00,", "{c}").splitlines()
    lines[4], lines[9] = "later,70.0", "later,70.0"

    with pytest.raises(ValueError, match="No column was found that says when"):
        recognise(split_cells("\n".join(lines)))


def test_a_date_that_one_row_spoils_is_not_left_out_unsaid() -> None:
    lines = table("Date,Time,T (C)", "{d:02}/12/2026,{H:02}:{M:02}:00,", "{c}").splitlines()
    lines[5] = lines[5].replace("25/12", "25/1Z")

    found = recognise(split_cells("\n".join(lines)))

    assert {way.form for way in found.times} == {"clock"}
    assert "Row 6: “25/1Z/2026 23:10:00” is no instant" in " ".join(found.questions)


@pytest.mark.parametrize("newest_first", [False, True], ids=["oldest-first", "newest-first"])
@pytest.mark.parametrize(
    ("below", "said"),
    [
        ("Average,70.0\nMax,74.0", "“Average 70.0”, “Max 74.0”)"),
        ("End of data,", "(“End of data”)"),
        ("Average,70.0\nMax,74.0\nMin,23.0\nSpread,9.0", "“Min 23.0”, …)"),
    ],
    ids=["figures", "words", "many"],
)
def test_a_summary_below_the_readings_is_left_out_and_said(
    below: str, said: str, newest_first: bool
) -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}")
    rows = split_cells((turned(text) if newest_first else text) + f"\n{below}\n")

    found, _choice, reading = the_cycle(rows, "iso")

    asked = " ".join(found.questions)
    assert "Below the readings stand rows without an instant" in asked
    assert said in asked
    assert reading.skipped == len(below.splitlines())
    assert rows[found.earliest_row][0] == "2026-12-25T22:30:00"


def test_a_summary_with_a_figure_for_an_instant_is_named() -> None:
    text = table("time,T (C)", "2026-12-{d:02}T{H:02}:{M:02}:00,", "{c}")

    with pytest.raises(ValueError, match=r"^Row 20: “18 readings” is no instant"):
        recognise(split_cells(text + "\n18 readings,70.0\n"))


def test_numbers_that_their_own_comma_parts_are_refused_above_a_summary_too() -> None:
    lines = [f"2026-12-25 22:3{n},{70 + n},5" for n in range(4)]

    with pytest.raises(ValueError, match="as where a comma inside a number parts it"):
        recognise(split_cells("\n".join(["time,T (C)", *lines, "End of data,,"])))


def test_an_hour_back_is_refused_until_a_person_says_so() -> None:
    rows = [["time", "T (C)"]] + [
        [f"2026-10-25T{h:02}:{m:02}:00", "74.0"] for h, m in [(2, 40), (2, 50), (2, 0), (2, 10)]
    ]
    first, time, heat = 1, recognise(rows[:3]).times[0], recognise(rows[:3]).heats[0]

    with pytest.raises(ValueError, match="unless the clock was put back by an hour then, put"):
        read(rows, first, time, heat)
    assert read(rows, first, time, heat, clock_back=True).samples.end_s == 30 * 60


def test_a_clock_goes_back_once() -> None:
    rows = [["time", "T (C)"]] + [
        [f"2026-10-25T02:{m:02}:00", "74.0"] for m in (10, 40, 20, 50, 30)
    ]
    found = recognise(rows[:3])

    with pytest.raises(ValueError, match="reading 5, and no change of the clock explains it"):
        read(rows, 1, found.times[0], found.heats[0], clock_back=True)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", "No columns"), ("one word", "No columns"), ("\x89PNG\r\n\x00\x01", "no table of text"),
        ("PK\x03\x04,", "no table of text"), ("a,b\n" * 300_002, "more than 300000 rows"),
        ("a,b\r" * 300_002, "more than 300000 rows"),
        ("time,C\n2026-12-09 10:00,23", "fewer than two rows"),
        ("22:30  23.0\n22:31  23.5", "a semicolon, a comma or a tab between them"),
        ('s,C\n"900",23\n"1,800",40\n"2,700",74', "without a mark between the thousands"),
        ("at,C\n2026-12-09 10:00,7x.0\n2026-12-09 10:01,7y.0", "export the degrees as plain"),
        ("at,C\n2026-12-09 10:00,70.0\n2026-12-09 10:00,71.0", "All readings are of one instant"),
        ("at;T C\n2026-12-09 10:00;-\n2026-12-09 10:01;-", "Row 2 says “-” for a temperature, "),
        (
            "at;T C\n" + "2026-12-09 10:00;70\n2026-12-09 10:01;####\n" * 3,
            "Row 3 says “####” for a temperature, and 2 more rows have none: send the record of a",
        ),
        ("No.;at;T C\n1;2026-12-09 10:00;-\n2;2026-12-09 10:01;-", "“T C” has no reading in any"),
        (
            "No.;at;T C\n"
            + "".join(f"1;2026-12-09 1{n}:00;70\n2;2026-12-09 1{n}:01;####\n" for n in range(3)),
            "Row 3: “####” is no temperature, nor are the cells of 2 more rows",
        ),
        ("at;T (K)\n2026-12-09 10:00;296.1\n2026-12-09 10:01;297.1", "is in kelvin, which is not"),
    ],
    ids=[
        "empty", "words", "image", "workbook", "long", "long-of-old", "one-row", "blanks",
        "thousands", "no-heat", "one-instant", "dashes", "hashes",
        "dashes-of-three", "hashes-of-three", "kelvin",
    ],
)  # fmt: skip
def test_what_is_no_record_is_said(text: str, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        recognise(split_cells(text))


def test_two_marks_that_end_one_row_are_one_row() -> None:
    assert len(split_cells("a,b\r\n" * 300_000)) == 300_000
