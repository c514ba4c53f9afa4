"""Resins, their programs and the checks of probes, as the settings pages show them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from cases.domain.cure.program import Program, read_program
from cases.models import Bath, CureProgram, Lab, LagRun, ProbeCheck, Resin

CHECKS_SHOWN = 100
RUNS_SHOWN = 12


@dataclass(frozen=True)
class ProgramPage:
    """A version of a program with all of its versions, newest first."""

    row: CureProgram
    versions: list[CureProgram]

    @property
    def newest(self) -> CureProgram:
        """Return the version in use, or the last that was."""
        return self.versions[0]


def newest_of(programs: list[CureProgram]) -> list[CureProgram]:
    """Return the newest version of each name, by name."""
    newest: dict[str, CureProgram] = {}
    for row in programs:
        if row.name not in newest or newest[row.name].version < row.version:
            newest[row.name] = row
    return [newest[name] for name in sorted(newest)]


def resin_list() -> list[tuple[Resin, list[CureProgram]]]:
    """Return the resins, those in use first, each with its programs in use (two queries)."""
    rows = Resin.objects.prefetch_related("programs").order_by("-active", "name", "pk")
    return [
        (row, [one for one in newest_of(list(row.programs.all())) if one.retired_at is None])
        for row in rows
    ]


def one_resin(pk: int) -> Resin | None:
    """Return a resin with its programs."""
    programs = CureProgram.objects.select_related("saved_by")
    return Resin.objects.prefetch_related(Prefetch("programs", programs)).filter(pk=pk).first()


def one_program(pk: int) -> ProgramPage | None:
    """Return a version of a program, with the others of its name (two queries)."""
    row = CureProgram.objects.select_related("resin", "saved_by").filter(pk=pk).first()
    if row is None:
        return None
    versions = CureProgram.objects.filter(resin=row.resin_id, name=row.name)
    return ProgramPage(row, list(versions.select_related("saved_by").order_by("-version")))


def in_use() -> QuerySet[CureProgram]:
    """Return the newest version of each program, where it and its resin are in use."""
    later = CureProgram.objects.filter(
        resin=OuterRef("resin"), name=OuterRef("name"), version__gt=OuterRef("version")
    )
    return CureProgram.objects.filter(~Exists(later), retired_at__isnull=True, resin__active=True)


def programs_in_use() -> list[CureProgram]:
    """Return the programs in use with their resins, by resin and name (one query)."""
    return list(in_use().select_related("resin").order_by("resin__name", "name"))


def is_in_use(program: CureProgram) -> bool:
    """Tell whether a version of a program is the newest, and in use (one query)."""
    return in_use().filter(pk=program.pk).exists()


def program_here(row: CureProgram) -> tuple[Program, int]:
    """Return a program with its boils as they are at the lab's altitude, and that in metres."""
    altitude = Lab.objects.values_list("altitude_m", flat=True).first() or 0
    return read_program(row.document).at_altitude(altitude), altitude


def probe_checks(bath: Bath) -> list[ProbeCheck]:
    """Return the last checks of a bath's probes, newest first."""
    return list(bath.probe_checks.select_related("by")[:CHECKS_SHOWN])


def lag_runs(bath: Bath) -> list[LagRun]:
    """Return the runs that a bath's lag was measured by, the one in use first."""
    return list(bath.lag_runs.select_related("by").order_by("-ran_on", "-pk")[:RUNS_SHOWN])


def probe_check(bath: int, probe: str, day: date) -> ProbeCheck | None:
    """Return the check by which what a probe read on a day is put right; None without any.

    The last one until that day, so that a later check never changes what an earlier record says.
    Where the first check came after that day it is the only thing known of the probe.
    """
    checks = ProbeCheck.objects.filter(bath=bath, probe=probe)
    until = checks.filter(checked_on__lte=day).first()
    return until or checks.order_by("checked_on", "-pk").first()
