"""How far resin in a flask lags behind a bath: a run with two probes, read, fitted and kept."""

from __future__ import annotations

import io
import re
from datetime import date, datetime, time
from typing import IO, Any

from django.utils.translation import gettext as _

from cases.domain.cure.cells import first_row
from cases.domain.cure.chart import thinned
from cases.domain.cure.heat_columns import number
from cases.domain.cure.lag import MODEL_VERSION, fit_lag
from cases.domain.cure.samples import Samples
from cases.models import Bath, LagRun
from cases.services.bath_raw import MOST_TYPED, raw_of, take_in_file
from cases.services.bath_record import Choice, Understood, understand, zone
from cases.services.bath_table import rows_of
from cases.services.lab import the_lab
from cases.services.record import Recorder, Refusal, verb
from cases.services.resins import past_day

_TYPED = re.compile(r"(\d{1,2})[:.](\d{2})[\s;]+([+-]?\d+(?:[.,]\d+)?)[\s;]+([+-]?\d+(?:[.,]\d+)?)")


def take_in_typed_run(text: str) -> str:
    """Keep typed readings of both probes as a table; return its hash.

    Raises
    ------
    Refusal
        ``no-record``, naming the line that is no reading.
    """
    if len(text) > MOST_TYPED:
        raise Refusal("no-record", _("That is too much to type. Send it as a file."), field="typed")
    lines = ["time;bath (°C);flask (°C)"]
    for n, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        match = _TYPED.fullmatch(line.strip())
        if match is None:
            raise Refusal(
                "no-record",
                _(
                    "Line %(n)d, “%(line)s”, is no reading. Write the time, the bath and the "
                    "flask, like 22:30 74.2 61.5"
                )
                % {"n": n, "line": line.strip()[:40]},
                field="typed",
            )
        cells = [cell.replace(",", ".") for cell in match.groups()[2:]]
        lines.append(";".join([f"{int(match[1]):02}:{match[2]}", *cells]))
    return _taken(io.BytesIO("\n".join([*lines, ""]).encode()), "typed")


def take_in_run(upload: IO[bytes], field: str = "file") -> str:
    """Keep a logger's file of a run unchanged; return its hash.

    Raises
    ------
    Refusal
        ``too-large``, ``no-record``; nothing is stored then.
    """
    return _taken(upload, field)


def _taken(upload: IO[bytes], field: str) -> str:
    try:
        return take_in_file(upload)
    except Refusal as refusal:
        raise Refusal(refusal.code, refusal.sentence, field=field) from refusal


@verb("bath.calibrate", may="settings")
def calibrate(
    record: Recorder, *, bath: int, sha256: str, choice: dict[str, Any],
    flask_choice: dict[str, Any], ran_on: str, flask_sha256: str = "", how: str = "file",
) -> dict[str, Any]:  # fmt: skip
    """Fit the lag of a bath to a run, and keep it with the bath and the run.

    The newest run by its day is the one in use: one that is entered late only stands beside it.

    Parameters
    ----------
    choice, flask_choice
        How the bath and the flask are read, as a ``Choice``; of one table, or of one each.
    ran_on
        The day of the run.

    Raises
    ------
    Refusal
        ``no-bath``, ``no-raw``, ``no-record``, ``bad-day``, ``no-lag`` where the two do not belong
        together; nothing is kept then.
    """
    row = Bath.objects.select_for_update().filter(pk=bath).first()
    if row is None:
        raise Refusal("no-bath", _("There is no such bath. Look at the list of baths."))
    day = past_day(ran_on, the_lab(), record.now, "ran_on")
    one_table = not flask_sha256
    if one_table and choice["column"] == flask_choice["column"]:
        raise Refusal("no-lag", _("Bath and flask are two columns. Choose both."), field="flask")
    columns = (int(choice["column"]), int(flask_choice["column"]))
    driving = _read(sha256, choice, day, columns if one_table else ())
    read = _read(flask_sha256 or sha256, flask_choice, day, columns if one_table else ())
    behind = (read.started - driving.started).total_seconds()
    flask = read.reading.samples
    try:
        found = fit_lag(
            driving.reading.samples, Samples(flask.seconds + behind, flask.celsius)
        )  # fmt: skip
    except ValueError as error:
        raise Refusal("no-lag", str(error), field="flask") from error
    record.event("bath.calibrated", subject=row.name, minutes=round(found.minutes, 1))
    run = record.create(
        LagRun,
        bath=row,
        how=how,
        sha256=sha256,
        flask_sha256=flask_sha256,
        layout={"bath": choice, "flask": flask_choice},
        ran_on=day,
        minutes=found.minutes,
        rms_k=found.rms_k,
        points={
            "bath": thinned(driving.reading.samples),
            "flask": [(s + behind, c) for s, c in thinned(flask)],
        },
        model_version=MODEL_VERSION,
        by=record.actor,
        at=record.now,
    )
    in_use = row.lag_on is None or day >= row.lag_on
    if in_use:
        record.change(row, lag_minutes=round(found.minutes, 2), lag_on=day)
    return {"run": run.pk, "minutes": found.minutes, "in_use": in_use}


def _read(
    sha256: str, choice: dict[str, Any], day: date, both: tuple[int, ...]
) -> Understood:  # fmt: skip
    """Read one of the two; of one table only the rows that have both, so that they keep step."""
    raw = raw_of(sha256)
    if raw is None:
        raise Refusal("no-raw", _("That file is not here any more. Send it again."))
    try:
        rows = rows_of(raw.data, typed=raw.how == "typed")
        if both:
            first = first_row(rows)
            width = len(rows[first])
            rows = [
                row
                for n, row in enumerate(rows)
                if n < first
                or (len(row) == width and all(number(row[column]) is not None for column in both))
            ]
    except (ValueError, IndexError) as error:
        raise Refusal("no-record", str(error)) from error
    chosen = {**choice, "columns": tuple(choice["columns"])}
    chosen["began"] = datetime.combine(day, time()).isoformat()
    return understand(rows, Choice(**chosen), zone())
