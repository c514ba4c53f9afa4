"""The default route against the bench's own table, written out here a second time."""

from __future__ import annotations

from dataclasses import dataclass

import pytest

from cases.domain.conditions import CONDITION_WORDS, CONDITIONS
from cases.domain.design import Clasp, Design, WorkOrder
from cases.domain.route import (
    SKILLS,
    STATIONS,
    EdgeSpec,
    StageSpec,
    default_template,
    latest_words,
    minutes_of,
)
from cases.domain.route_short import SHORT_STAGES

TEMPLATE = default_template()
STAGES = {stage.key: stage for stage in TEMPLATE.stages}
SHORT_KEYS = {stage.key for _anchor, stage in SHORT_STAGES}

# One of everything, a different number of each, so that no two coefficients can be mixed up:
# C2 R3 T5 X1 F4 B1 J2 P1 N2.
SAMPLE_ORDER = WorkOrder(casts=2)
SAMPLE = Design(
    arch="upper",
    missing=frozenset({14, 15, 16, 25, 26}),
    replaced=frozenset({14, 15, 16, 25, 26}),
    extracted=frozenset({14}),
    clasps=(Clasp(13), Clasp(24)),
    rests=frozenset({12, 23, 27}),
    bar=True,
    joints=2,
    blocked=frozenset({(13, "distal"), (17, "mesial"), (24, "distal"), (27, "mesial")}),
    method="plaster",
)


@dataclass(frozen=True)
class Row:
    """One line of the table: minutes for the sample, night, station, things held until."""

    when: str
    after: set[str]
    minutes: float
    station: str
    night: str
    holds: set[tuple[str, str]]
    short_after: frozenset[str] = frozenset()


FINISH, WAIT = "finish", "wait"
CAST = {("cast", FINISH)}
TABLE = {
    "receive": Row("always", set(), 8, "desk", "yes", {("box", "send")}),
    "disinfect": Row("not-proven", {"receive"}, 4, "wet-bench", "no", set()),
    "pour": Row(
        "pour", {"disinfect", "receive"}, 16, "plaster-bench", "no", {("impression", "trim")}
    ),
    "trim": Row(
        "casts-to-trim", {"pour", "receive", "disinfect"}, 9, "trimmer", "yes", set(),
        frozenset({"pick-up", "stone-copy"}),
    ),
    "rim": Row("rim", {"trim"}, 20, "wax-bench", "yes", set()),
    "cast-prep": Row("immediate", {"trim"}, 9, "bench", "yes", set()),
    "survey": Row("new-piece", {"trim", "cast-prep"}, 16, "surveyor", "yes", CAST),
    "agree": Row("agreement", {"survey"}, 0, "", "yes", set()),
    "block-out": Row(
        "new-piece", {"survey", "agree", "copy-cast"}, 16, "surveyor", "yes", CAST
    ),
    "copy-mould": Row(
        "copy", {"block-out", "survey", "agree"}, 10, "duplicating", "yes", {("cast", WAIT)}
    ),
    "copy-cast": Row("copy", {"copy-mould"}, 8, "plaster-bench", "yes", set()),
    "mount": Row(
        "mounted", {"block-out", "copy-cast", "rim"}, 12, "articulator", "yes",
        {("cast", WAIT), ("articulator", "bite")},
    ),
    "clasps": Row("wires", {"block-out", "copy-cast"}, 42, "wire-bench", "yes", CAST),
    "bar": Row("bar", {"block-out", "copy-cast"}, 18, "wire-bench", "yes", CAST),
    "join": Row("joints", {"clasps", "bar"}, 14, "torch-or-welder", "yes", set()),
    "teeth": Row(
        "teeth", {"mount", "clasps", "bar", "join"}, 29, "wax-bench", "yes",
        {("articulator", FINISH)},
    ),
    "try-in": Row("try-in", {"teeth"}, 8, "wax-bench", "yes", set(), frozenset({"index"})),
    "wax": Row("new-piece", {"teeth", "try-in"}, 36, "wax-bench", "yes", set(),
               frozenset({"index"})),
    "wax-pass": Row("new-piece", {"wax"}, 4, "any", "yes", set()),
    "flask-lower": Row(
        "new-piece", {"wax-pass"}, 10, "flask-bench", "yes", {("flask", "deflask")}
    ),
    "flask-upper": Row("new-piece", {"flask-lower"}, 10, "flask-bench", "yes", set()),
    "boil-out": Row("new-piece", {"flask-upper"}, 10, "boil-out-unit", "no", set()),
    "separate": Row("new-piece", {"boil-out"}, 6, "flask-bench", "limit", set()),
    "pack": Row("new-piece", {"separate"}, 24, "press", "no", {("press", FINISH)}),
    "clamp": Row("new-piece", {"pack"}, 0, "clamp", "limit", {("clamp", "cool")}),
    "cure": Row("new-piece", {"clamp"}, 4, "bath", "yes", {("bath", WAIT)}),
    "cool": Row("new-piece", {"cure"}, 2, "rack", "yes", set()),
    "deflask": Row("new-piece", {"cool"}, 8, "flask-bench", "yes", set()),
    "bite": Row("mounted", {"deflask"}, 8, "articulator", "yes", set()),
    "take-off": Row("new-piece", {"deflask", "bite"}, 8, "bench", "yes", set()),
    "fit": Row("master-kept", {"take-off"}, 18, "bench", "yes", set()),
    "finish": Row(
        "always", {"fit", "take-off"}, 28, "finishing", "yes", set(),
        frozenset({"look", "self-cure"}),
    ),
    "polish": Row("polish", {"finish"}, 19, "polishing", "yes", set()),
    "inspect": Row("always", {"polish", "finish"}, 8, "any", "yes", set()),
    "soak": Row("new-piece", {"inspect"}, 0, "rack", "yes", set()),
    "pack-out": Row("always", {"soak"}, 6, "desk", "yes", set()),
    "send": Row("always", {"pack-out"}, 3, "desk", "yes", set()),
}  # fmt: skip

# Before, after, condition: wait, latest, least. Edges without any of them are not listed.
WAITS: dict[tuple[str, str, str], tuple[float, float | None, float | None]] = {
    ("disinfect", "pour", "pour"): (10, 25, None),
    ("disinfect", "trim", "not-poured"): (10, None, None),
    ("pour", "trim", "alginate"): (60, 120, 45),
    ("pour", "trim", "not-alginate"): (60, None, 45),
    ("copy-mould", "copy-cast", "silicone"): (45, None, 15),
    ("copy-mould", "copy-cast", "gel"): (45, 55, None),
    ("copy-cast", "block-out", "copy-then-plaster-silicone"): (60, None, 45),
    ("copy-cast", "block-out", "copy-then-plaster-gel"): (60, 120, 45),
    **{
        ("copy-cast", after, f"wax-then-copy-{material}"): (60, latest, 45)
        for after in ("mount", "clasps", "bar")
        for material, latest in (("silicone", None), ("gel", 120))
    },
    **{
        ("block-out", after, "plaster-block-out"): (20, None, None)
        for after in ("mount", "clasps", "bar")
    },
    ("mount", "teeth", "always"): (30, None, 20),
    ("join", "teeth", "always"): (10, None, None),
    ("wax-pass", "flask-lower", "always"): (10, None, None),
    ("flask-lower", "flask-upper", "always"): (45, 1440, 30),
    ("flask-upper", "boil-out", "always"): (60, 1440, 45),
    ("boil-out", "separate", "always"): (0, 30, None),
    ("separate", "pack", "always"): (15, 720, None),
    ("clamp", "cure", "always"): (30, 360, None),
    ("cure", "cool", "always"): (540, None, None),
    ("cool", "deflask", "always"): (45, None, None),
    ("soak", "pack-out", "always"): (1440, None, 0),
    ("pack-out", "send", "always"): (10, None, None),
}


def test_route_has_the_stages_of_the_table_in_its_order() -> None:
    keys = [stage.key for stage in TEMPLATE.stages if stage.key not in SHORT_KEYS]

    assert keys == list(TABLE)


@pytest.mark.parametrize("key", TABLE)
def test_stage_reads_as_in_the_table(key: str) -> None:
    stage, row = STAGES[key], TABLE[key]

    assert (stage.when, stage.station, stage.night) == (row.when, row.station, row.night)
    assert {(held.thing, held.until) for held in stage.holds} == row.holds
    assert minutes_of(stage, SAMPLE_ORDER, SAMPLE) == row.minutes


@pytest.mark.parametrize("key", TABLE)
def test_stage_comes_after_those_of_the_table(key: str) -> None:
    before = {edge.before for edge in TEMPLATE.edges if edge.after == key}

    assert before == TABLE[key].after | TABLE[key].short_after


@pytest.mark.parametrize(
    ("method", "minutes"),
    [("none", 6), ("plaster", 16), ("wax-then-copy", 18), ("copy-then-plaster", 16)],
)
def test_block_out_minutes_follow_the_method(method: str, minutes: float) -> None:
    design = Design(arch="lower", method=method, blocked=SAMPLE.blocked)  # type: ignore[arg-type]

    assert minutes_of(STAGES["block-out"], SAMPLE_ORDER, design) == minutes


def test_waits_are_those_of_the_table() -> None:
    def timed(edge: EdgeSpec) -> bool:
        short = edge.before in SHORT_KEYS or edge.after in SHORT_KEYS
        return not short and (edge.min_wait > 0 or edge.max_wait is not None)

    found = {
        (edge.before, edge.after, edge.when): (edge.min_wait, edge.max_wait, edge.least_wait)
        for edge in TEMPLATE.edges
        if timed(edge)
    }

    assert found == WAITS


@pytest.mark.parametrize(
    ("key", "because"),
    [
        ("cast-prep", "standing teeth are gone"),
        ("flask-lower", "cannot be changed"),
        ("pack", "no longer be put back"),
        ("take-off", "is lost"),
        ("finish", "ground off is gone"),
    ],
)
def test_points_of_no_return_ask_for_a_photograph_before(key: str, because: str) -> None:
    assert because in STAGES[key].photo_before


def test_only_the_points_of_no_return_ask_for_one() -> None:
    asking = {stage.key for stage in TEMPLATE.stages if stage.photo_before}

    assert asking - SHORT_KEYS == {"cast-prep", "flask-lower", "pack", "take-off", "finish"}


def test_kinds_of_stage_follow_who_does_the_work() -> None:
    unusual = {stage.key: stage.kind for stage in TEMPLATE.stages if stage.kind != "attended"}

    assert unusual == {
        "agree": "external",
        "clamp": "unattended",
        "cure": "load",
        "soak": "unattended",
    }
    assert {stage.key for stage in TEMPLATE.stages if stage.at_practice} == {"rim", "try-in"}


def test_batches_are_those_of_the_bench() -> None:
    batch = {stage.key for stage in TEMPLATE.stages if stage.batch} - SHORT_KEYS

    assert batch == {
        "pour", "flask-lower", "flask-upper", "boil-out", "separate", "pack", "cure", "polish",
    }  # fmt: skip


@pytest.mark.parametrize("stage", TEMPLATE.stages, ids=lambda stage: stage.key)
def test_stage_speaks_in_whole_sentences_and_names_its_source(stage: StageSpec) -> None:
    assert stage.public_words[0].isupper()
    assert stage.public_words.endswith(".")
    assert len(stage.public_words) <= 120
    assert stage.mark
    assert stage.skill in SKILLS
    assert stage.station in STATIONS
    assert stage.when in CONDITIONS


def test_every_condition_has_words_and_is_used() -> None:
    used = {stage.when for stage in TEMPLATE.stages} | {edge.when for edge in TEMPLATE.edges}
    used |= {stage.photo_when for stage in TEMPLATE.stages}
    used |= {part.when for stage in TEMPLATE.stages for part in stage.night_when}
    used |= {held.when for stage in TEMPLATE.stages for held in stage.holds}
    used |= {check.when for check in TEMPLATE.checks}
    used |= {again.when for check in TEMPLATE.checks for again in check.again}

    assert set(CONDITION_WORDS) == set(CONDITIONS)
    assert all(CONDITION_WORDS.values())
    assert used - set(CONDITIONS) == set()
    assert set(CONDITIONS) - used == set()


def test_latest_words_say_the_span_and_the_reason() -> None:
    edges = {(edge.before, edge.after, edge.when): edge for edge in TEMPLATE.edges}

    assert latest_words(edges["pour", "trim", "alginate"]).startswith("At most 2 h. Alginate")
    assert latest_words(edges["disinfect", "pour", "pour"]) == (
        "At most 25 min. Pour at once after the rinse."
    )
    assert latest_words(EdgeSpec("a", "b", max_wait=90)) == "At most 1 h 30 min."
    assert latest_words(EdgeSpec("a", "b")) == ""
