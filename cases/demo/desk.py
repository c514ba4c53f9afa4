"""The desk of the demo lab: boxes come in, boxes go out, reports and remakes follow."""

from __future__ import annotations

from datetime import timedelta
from functools import partial

from cases.demo import trouble, words
from cases.demo.followups import expect_answers
from cases.demo.orders import order_of
from cases.demo.people import DESK, PLACES, Place
from cases.demo.pictures import picture
from cases.demo.readings import saying
from cases.demo.state import ENDED, House, Job
from cases.demo.wishes import Wish, ship_day
from cases.domain.order import OrderForm
from cases.selectors import driving
from cases.services.close_case import cancel_case, write_note
from cases.services.dispatch import ask_pick_up, mark_sent, pack, pick_up_done
from cases.services.log_case import log_case
from cases.services.papers import keep_paper
from cases.services.received import later_item_came
from cases.services.remake import remake_case
from cases.services.report import insert_report

LAST = ("soak", "pack-out", "send")
PACKED_BEFORE_MIN = 50.0
SOAK_MIN = 24 * 60.0
SHORT_SOAK = "The van is due."


def log(house: House, wish: Wish) -> None:
    """Log what came in; a remake or an adjustment belongs to an earlier case."""
    if wish.kind == "remake":
        first = _earlier(house, kinds=("new",))
        if first is not None:
            _remake(house, wish, first)
            return
        wish.kind, wish.target = "new", "teeth" if wish.target == "index" else wish.target
    reference = f"{wish.place.code}-{1000 + wish.number}"
    if wish.kind in ("adjustment", "repair", "addition"):
        first = _earlier(house, kinds=("new", "remake"), place=wish.place)
        reference = first.reference if first is not None else reference
    order = order_of(house.shop, wish, house.time)
    papers = [picture(_paper_design(order), wish.number)] if house.rng.random() < 0.3 else []
    outcome = house.send(
        log_case, DESK,
        practice=house.shop.practices[wish.place.code],
        dentist=house.shop.dentists[wish.dentist],
        patient_ref=reference,
        order=order.to_json(),
        papers=papers,
        ship_on=wish.ship_on.isoformat() if wish.ship_on else None,
        ship_reason="Agreed with the practice on the telephone." if wish.rush else "",
        same_patient_seen=True,
    )  # fmt: skip
    if outcome is not None:
        _follow(house, wish, outcome.result["cases"], reference)


def _paper_design(order: OrderForm) -> dict[str, object]:
    arch = "upper" if order.arch == "both" else order.arch
    mine = [tooth for tooth in order.replaces if (tooth < 30) is (arch == "upper")]
    return {
        "arch": arch, "missing": mine, "replaced": mine, "extracted": [], "clasps": [],
        "rests": [], "bar": False, "joints": 0, "blocked": [], "method": "none",
        "needs_agreement": False, "provisional": True,
    }  # fmt: skip


def _follow(house: House, wish: Wish, cases: list[int], reference: str) -> None:
    arches = ("upper", "lower") if wish.arch == "both" else (wish.arch,)
    for pk, arch in zip(cases, arches, strict=True):
        stand = driving.case_stand(pk)
        target = wish.twin_target if wish.twin_target and arch == "lower" else wish.target
        job = Job(
            pk, wish, arch, target, driving.stages_of(pk), stand.number, stand.leaves_at,
            stops=driving.stops(pk), taken_at=stand.taken_at, reference=reference,
            design=stand.design,
        )  # fmt: skip
        others = [other for other in cases if other != pk]
        job.twin = others[0] if others else None
        house.jobs[pk] = job
        house.look_ahead(job)
        for gate in wish.gates.values():
            house.wake(gate)
        expect_answers(house, job)
        if "order-came" not in wish.flags:
            _expect_items(house, job)
        if house.rng.random() < trouble.CALL:
            when = house.in_hours(house.time + timedelta(hours=house.rng.uniform(3, 60)))
            house.later(when, partial(_call, house, job))
        if "cancel" in wish.flags:
            house.later(house.next_morning(3, "11:10"), partial(_cancel, house, job))


def _call(house: House, job: Job) -> None:
    house.send(
        write_note, DESK, case=job.pk, text=house.rng.choice(words.CALLS),
        from_whom=job.wish.place.rings, telephone=True,
    )  # fmt: skip


def _cancel(house: House, job: Job) -> None:
    stand = driving.case_stand(job.pk)
    outcome = house.send(
        cancel_case, DESK, case=job.pk, version=stand.version,
        reason="The patient decided otherwise; the practice rang.",
    )  # fmt: skip
    if outcome is not None:
        job.state = "cancelled"


def _expect_items(house: House, job: Job) -> None:
    """What follows later comes on its day, unless the case is to wait for it."""
    if "follows" in job.wish.flags:
        return
    for pk, _item, _day in driving.expected_items(job.pk):
        house.later(house.next_morning(2, "09:45"), partial(_came, house, job, pk))


def _came(house: House, job: Job, received: int) -> None:
    house.send(later_item_came, DESK, received=received)
    house.follow(job, regrown=True)


# --- boxes go out ---------------------------------------------------------------------------


def plan_vans(house: House) -> None:
    """Put every round of the van on the clock."""
    day = house.shop.day(house.shop.opened)
    while day <= house.shop.day(house.now):
        for place in PLACES:
            if house.shop.works(day) and day.weekday() in place.ship_weekdays:
                leaves = house.shop.wall(day, place.cut_off)
                early = leaves - timedelta(minutes=PACKED_BEFORE_MIN)
                house.later(early, partial(_pack, house, place))
        day += timedelta(days=1)


def _soaked(house: House, job: Job) -> bool:
    soak = job.stages.get("soak")
    if soak is None or soak.state == "skipped":
        return True
    if soak.state != "done" or soak.ended_at is None:
        return False
    return house.time - soak.ended_at >= timedelta(minutes=SOAK_MIN)


def _due(house: House, job: Job) -> bool:
    today = house.shop.day(house.time)
    return job.leaves_at is not None and house.shop.day(job.leaves_at) <= today


def ready_to_leave(house: House, job: Job) -> bool:
    """Tell whether everything up to inspection has ended, and water or the day says so."""
    if job.state != "open" or not job.passed(*LAST):
        return False
    soak = job.stages.get("soak")
    wet = soak is None or soak.state in ENDED
    return not job.held("pack-out") and (_soaked(house, job) or (wet and _due(house, job)))


def _pack(house: House, place: Place) -> None:
    """Pack what is ready for a practice, and hand it over when the van comes."""
    ready = [
        job
        for job in house.jobs.values()
        if job.wish.place.code == place.code and not job.target and ready_to_leave(house, job)
    ]
    together = [job for job in ready if _with_its_twin(house, job, ready)]
    if not together:
        return
    box = pack_box(house, place, together)
    if box is not None:
        leaves = house.shop.wall(house.shop.day(house.time), place.cut_off)
        house.later(leaves, partial(_send, house, place, *box, together))
    if house.rng.random() < 0.3:
        _pick_up(house, place)


def _with_its_twin(house: House, job: Job, ready: list[Job]) -> bool:
    twin = house.jobs.get(job.twin) if job.twin else None
    return twin is None or twin.state in ("sent", "cancelled") or twin in ready or _due(house, job)


def pack_box(house: House, place: Place, jobs: list[Job]) -> tuple[int, str] | None:
    """Pack cases into a new box; returns its primary key and its number."""
    inside = {job.pk for job in jobs}
    entries = []
    for job in jobs:
        alone = job.twin is not None and job.twin not in inside
        stage = job.stages["pack-out"]
        checks = [
            {
                "item": one.pk,
                "yes": True,
                "words": saying(one.spec),
                "values": {m["key"]: 12.0 for m in one.spec["measures"]},
            }
            for one in driving.checks_of(stage.pk)
        ]
        casts = [pk for pk, label in driving.casts_of(job.pk) if label == "master"]
        entries.append(
            {"case": job.pk, "checks": checks, "casts": casts, "received": [],
             "alone": "The other follows with the next van." if alone else "",
             "soak": "" if _soaked(house, job) else SHORT_SOAK}
        )  # fmt: skip
    day = ship_day(house.shop, place, house.shop.day(house.time))
    outcome = house.send(
        pack, DESK, practice=house.shop.practices[place.code], cases=entries,
        ship_on=day.isoformat(),
    )  # fmt: skip
    if outcome is None:
        return None
    for job in jobs:
        job.state = "packed"
        house.follow(job)
    return int(outcome.result["shipment"]), str(outcome.result["number"])


def _send(house: House, place: Place, box: int, number: str, jobs: list[Job]) -> None:
    outcome = house.send(
        mark_sent, DESK, shipment=box,
        carrier_ref=f"{place.van_route.split()[0][:1]}{house.rng.randint(1000, 9999)}",
    )  # fmt: skip
    if outcome is None:
        return
    _keep_note(house, box, number)
    for job in jobs:
        job.state, job.sent_at = "sent", house.time
        _expect_report(house, job)


def _keep_note(house: House, box: int, number: str) -> None:
    """Keep the note that lies in the box, as it was printed."""
    if house.note is not None:
        house.submit(
            keep_paper, house.shop.prints(DESK, house.time, number),
            kind="note", number=number, stored=house.note(number), shipment=box,
        )  # fmt: skip


def _pick_up(house: House, place: Place) -> None:
    day = ship_day(house.shop, place, house.shop.day(house.time) + timedelta(days=1))
    outcome = house.send(
        ask_pick_up, DESK, practice=house.shop.practices[place.code], day=day.isoformat(),
        words=house.rng.choice(("An impression", "A try-in to bring back", "An old piece")),
    )  # fmt: skip
    if outcome is not None:
        fetched = partial(house.send, pick_up_done, DESK, pick_up=int(outcome.result["pick_up"]))
        house.later(house.shop.wall(day, "16:10"), fetched)


# --- what the practice says afterwards ------------------------------------------------------


def _expect_report(house: House, job: Job) -> None:
    if not house.shop.members[job.wish.place.code] or house.rng.random() < 0.3:
        return
    seen = job.wish.appointment or house.shop.day(house.time) + timedelta(days=2)
    when = house.shop.wall(seen, "10:00") + timedelta(minutes=house.rng.randint(0, 40 * 60))
    house.later(house.in_hours(when), partial(_report, house, job, None))


def _report(house: House, job: Job, said: dict[str, object] | None) -> None:
    if said is None:
        chance = house.rng.random()
        said = words.GOOD_REPORT
        if chance > 0.62:
            said = dict(house.rng.choice(words.FAIR_REPORTS))
        if chance > 0.9:
            said = words.BAD_REPORT if chance > 0.95 else words.HALF_REPORT
    person = house.rng.choice(house.shop.members[job.wish.place.code])
    house.submit(insert_report, house.shop.member(person, house.time), case=job.pk, **said)


def _earlier(house: House, *, kinds: tuple[str, ...], place: Place | None = None) -> Job | None:
    """Return a case that left some days ago and came to nothing more since."""
    settled = house.time - timedelta(days=3)
    found = [
        job
        for job in house.jobs.values()
        if job.sent_at is not None
        and job.sent_at < settled
        and job.wish.kind in kinds
        and job.twin is None
        and not job.remade
        # Its bite record went back with it: a remake would wait for another.
        and job.wish.bite == "by-hand"
        and (place is None or job.wish.place.code == place.code)
    ]
    if not found:
        return None
    chosen = house.rng.choice(found)
    chosen.remade = True
    return chosen


def _remake(house: House, wish: Wish, first: Job) -> None:
    """Make a piece again: the practice says how it sat, the desk opens the remake."""
    place = first.wish.place
    if house.shop.members[place.code]:
        _report(house, first, words.BAD_REPORT)
    reason, origin = words.REMADE[wish.number % len(words.REMADE)]
    start = "kept-wax-index"
    if wish.target != "index" and first.wish.method in ("wax-then-copy", "copy-then-plaster"):
        start = "kept-master"
    stand = driving.case_stand(first.pk)
    ship = ship_day(house.shop, place, wish.ship_on or house.shop.day(house.time))
    outcome = house.send(
        remake_case, DESK, case=first.pk, version=stand.version, reason=reason, origin=origin,
        start=start, ship_on=ship.isoformat(), ship_reason="Made again.",
        appointment_on=(ship + timedelta(days=place.transit_days + 2)).isoformat(),
    )  # fmt: skip
    if outcome is None:
        return
    wish.place, wish.arch, wish.teeth = place, first.arch, first.wish.teeth
    wish.method, wish.bar, wish.extracted = first.wish.method, first.wish.bar, ()
    wish.polish, wish.bite = first.wish.polish, first.wish.bite
    _follow(house, wish, [int(outcome.result["case"])], first.reference)
