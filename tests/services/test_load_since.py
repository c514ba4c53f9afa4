"""What changed after a flask was put into a load, and after its program was looked at."""

from __future__ import annotations

from datetime import timedelta

import pytest

from cases.models import Case, CheckItem, Lab, Load, Resin
from cases.selectors.filling import MIX_CHECK
from cases.services import load, load_run
from cases.services.dough import note_mix
from cases.services.lab import save_bath
from cases.services.record import Outcome, Recorder, Refusal
from cases.services.send_back import send_back
from cases.services.stage import finish_stage, start_stage
from tests.factories import answers, make_shop, rows
from tests.services.test_load import Bench, stage_of
from tests.walk import Clock, add_photos, free_things, photograph, walk

pytestmark = pytest.mark.django_db


@pytest.fixture
def bench() -> Bench:
    return Bench(make_shop(), cases=1)


def gathered(bench: Bench, resin: int | None = None) -> Load:
    """Put the case into a load, with what somebody says of its resin, and ask about it."""
    row, [case] = bench.made_empty(), bench.cases
    bench.do(load.add_flask, load=row.number, version=1, label=case.number, resin=resin)
    row.refresh_from_db()
    bench.do(load.estimate, load=row.number, version=row.version)
    return Load.objects.get(number=row.number)


def start(bench: Bench) -> Outcome:
    row = Load.objects.get()
    return bench.do(load_run.start_load, load=row.number, version=row.version)


def refused(bench: Bench) -> Refusal:
    with pytest.raises(Refusal) as caught:
        start(bench)
    assert Load.objects.get().state == "gathering"
    return caught.value


def goes_back(bench: Bench, to: str) -> Case:
    [case] = bench.cases
    cure = stage_of(case, "cure")
    bench.do(send_back, stage=cure.pk, version=cure.version, to=to, reason="cure-doubt")
    return case


def second_resin() -> Resin:
    made: Resin = rows(lambda record: {"row": record.create(Resin, name="Other resin")})["row"]
    return made


def packs(bench: Bench, case: Case, resin: Resin | None = None) -> None:
    """Pack the case again and let it rest; note the resin where one is given."""
    shop, stage = bench.shop, stage_of(case, "pack")
    start_stage(
        shop.envelope("mara", now=bench.now), stage=stage.pk, version=stage.version,
        photo=photograph(shop, case, stage, bench.now, "mara"),
    )  # fmt: skip
    stage.refresh_from_db()
    if resin is not None:
        bench.do(note_mix, stage=stage.pk, version=stage.version, resin=resin.pk)
        stage.refresh_from_db()
    add_photos(shop, stage, bench.now, "mara")
    done = finish_stage(
        shop.envelope("mara", now=bench.now + timedelta(minutes=20)), stage=stage.pk,
        version=stage.version, checks=answers(stage), things_used=free_things(),
    )  # fmt: skip
    assert done.result["finished"]
    clock = Clock(bench.now + timedelta(minutes=21))
    walk(shop, case, clock, until="clamp")
    bench.now = clock.now + timedelta(hours=1)


def test_load_whose_flasks_are_as_they_were_starts(bench: Bench) -> None:
    gathered(bench)

    start(bench)

    assert Load.objects.get().state == "running"


def test_case_that_is_packed_anew_with_another_resin_is_kept_out(bench: Bench) -> None:
    other = second_resin()
    gathered(bench, resin=bench.made["long"].resin.pk)
    case = goes_back(bench, "pack")
    packs(bench, case, other)

    no = refused(bench)

    assert (no.code, no.field) == ("other-resin", "")
    assert no.sentence == (
        f"{case.number} is packed with Other resin; this program is for Rosewater 3. "
        "Take its flask out of this load."
    )


def test_case_that_is_packed_anew_is_asked_about_again_where_nobody_noted_it(bench: Bench) -> None:
    second_resin()
    gathered(bench, resin=bench.made["long"].resin.pk)
    packs(bench, goes_back(bench, "pack"))

    no = refused(bench)

    assert (no.code, no.field) == ("say-resin", "")
    assert "Take its flask out of this load and add it again" in no.sentence


def test_resin_that_comes_into_use_later_asks_nothing_of_what_was_packed_before(
    bench: Bench,
) -> None:
    gathered(bench)
    second_resin()

    start(bench)

    assert Load.objects.get().state == "running"


def test_wax_that_is_measured_again_is_not_overlooked(bench: Bench) -> None:
    row = gathered(bench)
    [case] = bench.cases
    was = row.flasks.get().thickest_mm

    def thicker(record: Recorder) -> dict[str, object]:
        item = CheckItem.objects.get(case=case, number=load.WAX_CHECK)
        values = {**item.values, "values": {**item.values["values"], "thickest": 14.0}}
        record.change(item, values=values)
        return {}

    rows(thicker)
    no = refused(bench)
    with pytest.raises(Refusal) as at_estimate:
        bench.do(load.estimate, load=row.number, version=row.version)

    assert (no.code, at_estimate.value.code) == ("measured-since", "measured-since")
    assert no.sentence == (
        f"{case.number} is 14 mm at its thickest place by the check of the wax, and {was:g} mm in "
        "this load. Take its flask out of this load and add it again."
    )
    flask = row.flasks.get()
    taken = bench.do(load.remove_flask, load=row.number, version=row.version, flask=flask.pk)
    bench.do(
        load.add_flask, load=row.number, version=taken.result["version"], label=case.number
    )  # fmt: skip
    assert row.flasks.get(left_at=None).thickest_mm == 14.0


def test_mix_or_altitude_that_was_entered_since_is_estimated_with(bench: Bench) -> None:
    row = gathered(bench)
    [case] = bench.cases

    def wetter(record: Recorder) -> dict[str, object]:
        item = CheckItem.objects.get(case=case, number=MIX_CHECK)
        values = {**item.values["values"], "powder": 20.0, "liquid": 10.0}
        record.change(item, values={**item.values, "values": values})
        return {}

    rows(wetter)
    no = refused(bench)
    bench.do(load.estimate, load=row.number, version=row.version)

    assert (no.code, no.field) == ("ask-first", "")
    assert Load.objects.get().sound["filling"]["powder_liquid_g_ml"] == 2.0
    start(bench)
    assert Load.objects.get().state == "running"


def test_program_that_boils_elsewhere_by_now_is_estimated_again(bench: Bench) -> None:
    row = bench.new("short", thick=None)
    bench.do(load.estimate, load=row.number, version=row.version)
    rows(lambda record: {"row": record.change(Lab.objects.get(), altitude_m=1500)})

    assert refused(bench).code == "ask-first"


def test_bath_that_went_out_of_use_or_got_a_limit_takes_no_load(bench: Bench) -> None:
    gathered(bench)
    bath = bench.made["bath"]
    body = {"bath": bath.pk, "name": bath.name, "capacity": bath.capacity}
    manager = bench.shop.envelope("pavo", now=bench.now)

    save_bath(manager, **body, active=False)
    gone = refused(bench)
    save_bath(bench.shop.envelope("pavo", now=bench.now), **body, highest_c=70.0)
    cooler = refused(bench)

    assert (gone.code, cooler.code) == ("no-bath", "too-hot")
    assert "out of use" in gone.sentence


def test_bath_that_takes_fewer_by_now_takes_no_more_than_those() -> None:
    bench = Bench(make_shop(), cases=2)
    row = bench.made_empty()
    for version, case in enumerate(bench.cases, start=1):
        bench.do(load.add_flask, load=row.number, version=version, label=case.number)
    row.refresh_from_db()
    bench.do(load.estimate, load=row.number, version=row.version)
    bath = bench.made["bath"]
    manager = bench.shop.envelope("pavo", now=bench.now)
    save_bath(manager, bath=bath.pk, name=bath.name, capacity=1)

    no = refused(bench)

    assert no.code == "bath-full"
    assert no.sentence.endswith("takes 1 by now, and 2 are in this load. Take flasks out of it.")
