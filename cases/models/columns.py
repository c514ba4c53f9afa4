"""Where the truth of every column is.

``derived``: rebuilt from the events by ``verify_record``. ``reference``: the lab's own data,
with events of its own, rebuilt the same way. ``private``: free text, references and secrets;
events carry only a hash of them, so that retention can blank them. ``cache``: machinery that
holds nothing anybody recorded. A column that is not listed fails a test.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Columns:
    """The columns of one model by where their truth is; the primary key is left out."""

    derived: tuple[str, ...] = ()
    reference: tuple[str, ...] = ()
    private: tuple[str, ...] = ()
    cache: tuple[str, ...] = ()

    @property
    def recorded(self) -> tuple[str, ...]:
        """Columns whose value stands in the events."""
        return self.derived + self.reference


COLUMNS: dict[str, Columns] = {
    "Absence": Columns(reference=("person", "first_on", "last_on", "words")),
    "Alert": Columns(derived=("timer", "words", "raised_at", "acknowledged_at", "acknowledged_by")),
    "Bath": Columns(
        reference=(
            "name",
            "capacity",
            "highest_c",
            "starts_itself",
            "lag_minutes",
            "lag_on",
            "active",
        )
    ),
    "BathFeed": Columns(
        reference=(
            "bath",
            "kind",
            "file_name",
            "unit",
            "order",
            "column",
            "probe",
            "made_at",
            "made_by",
            "ended_at",
            "ended_by",
        ),
        private=("token_hash",),
        cache=("offset", "head", "layout", "last_at", "last_celsius", "trouble", "fault"),
    ),
    "BathRecord": Columns(
        derived=(
            "load",
            "how",
            "sha256",
            "layout",
            "probe_at",
            "started",
            "points",
            "verdict",
            "model_version",
            "by",
            "at",
            "decision",
            "decided_by",
            "decided_at",
        ),
        private=("file_name", "decision_words"),
    ),
    "BathSample": Columns(cache=("bath", "slot", "at", "celsius")),
    "BenchSession": Columns(
        derived=("tablet", "person", "opened_at", "closed_at", "closed_how"), cache=("seen_at",)
    ),
    "Case": Columns(
        derived=(
            "number",
            "prescription",
            "practice",
            "arch",
            "kind",
            "state",
            "version",
            "work_order",
            "template",
            "twin",
            "remake_of",
            "remake_reason",
            "remake_origin",
            "rush",
            "contaminated",
            "appointment_on",
            "appointment_at",
            "needed_on",
            "promised_on",
            "first_promised_on",
            "leaves_at",
            "taken_at",
            "pour_by",
            "design",
            "logged_at",
            "closed_at",
            "closed_reason",
        ),
        private=("patient_ref", "order"),
    ),
    "CaseEdge": Columns(
        derived=("case", "before", "after", "min_wait", "least_wait", "max_wait", "latest_words")
    ),
    "CaseStage": Columns(
        derived=(
            "case",
            "key",
            "name",
            "position",
            "kind",
            "skill",
            "station",
            "minutes",
            "spec",
            "state",
            "version",
            "attempt",
            "assignee",
            "worker",
            "ready_at",
            "may_from",
            "latest_at",
            "started_at",
            "ended_at",
            "words",
        )
    ),
    "CheckItem": Columns(
        derived=(
            "case",
            "stage",
            "key",
            "number",
            "subject",
            "position",
            "spec",
            "required",
            "state",
            "values",
            "sentence",
            "design_version",
        )
    ),
    "CheckPhoto": Columns(derived=("item", "attempt", "file")),
    "CheckResult": Columns(
        derived=("item", "attempt", "values", "state", "sentence", "design_version", "by", "at")
    ),
    "ClosedDay": Columns(reference=("day", "words")),
    "Concession": Columns(
        derived=("item", "attempt", "reason", "sentence", "by", "at"), private=("words",)
    ),
    "Counter": Columns(cache=("series", "last")),
    "Countersign": Columns(
        derived=("stage", "run", "asked_by", "asked_at", "signed_by", "signed_at", "agreed"),
        private=("words",),
    ),
    "CureLimitsChange": Columns(reference=("before", "after", "reason", "by", "at")),
    "CureProgram": Columns(
        reference=(
            "resin",
            "name",
            "version",
            "document",
            "reason",
            "saved_by",
            "saved_at",
            "retired_at",
        )
    ),
    "CutLoad": Columns(
        derived=(
            "cut",
            "load",
            "found_c",
            "record",
            "says",
            "stage",
            "decision",
            "hold_minutes",
            "hot_at",
        )
    ),
    "Delivery": Columns(cache=("alert", "lease_until", "sent_at", "times")),
    "Dentist": Columns(reference=("name", "licence", "person", "active")),
    "DentistAt": Columns(reference=("dentist", "practice")),
    "Design": Columns(
        derived=("case", "version", "data", "reason", "asked_by", "standing", "by", "made_at")
    ),
    "Event": Columns(
        cache=(
            "submission",
            "n",
            "kind",
            "subject",
            "case",
            "by",
            "happened_at",
            "received_at",
            "facts",
            "changes",
            "corrects",
            "digest",
        )
    ),
    "File": Columns(
        derived=(
            "case",
            "kind",
            "sha256",
            "content_type",
            "size",
            "path",
            "visible_to_practice",
            "by",
            "at",
        ),
        private=("words",),
    ),
    "Heartbeat": Columns(cache=("name", "at")),
    "Hold": Columns(
        derived=(
            "case",
            "stages",
            "reason",
            "waits_for",
            "expected_on",
            "question",
            "by",
            "opened_at",
            "released_at",
            "released_by",
        ),
        private=("words",),
    ),
    "InsertionReport": Columns(
        derived=(
            "case",
            "seating",
            "retention",
            "bite",
            "sore_spots",
            "chair_minutes",
            "adjusted",
            "by",
            "at",
        ),
        private=("words",),
    ),
    "Invitation": Columns(
        reference=("person", "made_at", "expires_at", "used_at"), private=("token_hash", "email")
    ),
    "Lab": Columns(
        reference=(
            "name",
            "address",
            "zone",
            "notation",
            "paper",
            "required_profile",
            "idle_lock_minutes",
            "lock_puts_down",
            "nudge_after_minutes",
            "rule_limits",
            "cure_limits",
            "altitude_m",
            "plan_seconds",
            "plan_overtime",
            "plan_overtime_minutes",
            "rush_weight",
            "remake_weight",
            "set_up_at",
        )
    ),
    "LoadTrace": Columns(
        derived=("load", "sha256", "readings", "first_at", "last_at", "probe", "made_at")
    ),
    "Mishap": Columns(derived=("stage", "file", "by", "at"), private=("words",)),
    "Mix": Columns(
        derived=(
            "case",
            "stage",
            "attempt",
            "resin",
            "mixed_at",
            "room_c",
            "opens_at",
            "closes_at",
            "closed_at",
            "by",
        )
    ),
    "Note": Columns(
        derived=("case", "kind", "to_person", "visible_to_practice", "by", "at"),
        private=("text", "from_whom"),
    ),
    "LagRun": Columns(
        derived=(
            "bath",
            "how",
            "sha256",
            "flask_sha256",
            "layout",
            "ran_on",
            "minutes",
            "rms_k",
            "points",
            "model_version",
            "by",
            "at",
        )
    ),
    "Load": Columns(
        derived=(
            "number",
            "bath",
            "program",
            "state",
            "made_at",
            "made_by",
            "placed_at",
            "placed_by",
            "starts_at",
            "ends_at",
            "open_from",
            "more_minutes",
            "sound",
            "version",
        ),
        private=("words",),
    ),
    "LoadExtension": Columns(
        derived=("load", "stage", "minutes", "how", "record", "cut", "by", "at"),
        private=("words",),
    ),
    "LoadFlask": Columns(
        derived=(
            "load",
            "case",
            "stage",
            "attempt",
            "flask",
            "thickest_mm",
            "resin",
            "added_at",
            "left_at",
        )
    ),
    "Occupied": Columns(
        derived=("thing", "case", "from_stage", "until_stage", "since", "free_at", "freed_at")
    ),
    "OpenHours": Columns(reference=("weekday", "opens", "closes")),
    "Paper": Columns(derived=("kind", "number", "case", "shipment", "file", "designs", "at")),
    "Person": Columns(
        reference=(
            "user",
            "name",
            "is_desk",
            "is_technician",
            "is_manager",
            "is_dentist",
            "is_reception",
            "is_student",
            "notation",
            "active",
            "overtime_minutes",
        ),
        private=("pin_hash",),
        cache=("pin_failures", "pin_locked_until"),
    ),
    "PersonSkill": Columns(reference=("person", "skill", "speed", "may_countersign")),
    "PickUp": Columns(derived=("practice", "day", "words", "by", "asked_at", "done_at")),
    "Plan": Columns(
        cache=(
            "made_at",
            "how",
            "lateness",
            "moves",
            "flow",
            "seconds",
            "up_to_event",
            "unplanned",
            "words",
            "asked",
        )
    ),
    "PlanCase": Columns(cache=("plan", "case", "leaves_at", "late_minutes", "why", "remedies")),
    "PlanPin": Columns(
        derived=("stage", "person", "begins_at", "bath", "by", "at", "lifted_at", "lifted_by")
    ),
    "PlanStage": Columns(
        cache=(
            "plan",
            "stage",
            "person",
            "bath",
            "begins_at",
            "ends_at",
            "together",
            "signer",
            "signed_from",
            "was_person",
            "was_from",
            "why",
        )
    ),
    "Planner": Columns(
        cache=(
            "busy_until",
            "looked_at",
            "improving_since",
            "improved_for",
            "spent_seconds",
            "first_lateness",
            "best_lateness",
            "stop_asked",
            "fault",
        )
    ),
    "PowerCut": Columns(derived=("off_at", "on_at", "by", "at"), private=("words",)),
    "Practice": Columns(
        reference=(
            "name",
            "code",
            "address",
            "phone",
            "van_route",
            "ship_weekdays",
            "transit_days",
            "cut_off",
            "usual_borders",
            "usual_polish",
            "active",
        )
    ),
    "PracticeMember": Columns(reference=("person", "practice")),
    "Prescription": Columns(
        derived=("practice", "dentist", "signed", "licence_given", "received_at"),
        private=("patient_ref", "as_received"),
    ),
    "Promise": Columns(derived=("case", "ship_on", "reason", "by", "given_at")),
    "ProbeCheck": Columns(
        reference=("bath", "probe", "checked_on", "reads_high_k", "against", "by", "at")
    ),
    "Question": Columns(
        derived=(
            "case",
            "number",
            "subject",
            "words",
            "answers",
            "stops",
            "reception_may",
            "asked_by",
            "asked_at",
            "answered_by",
            "answered_at",
            "answered_how",
            "changed",
            "awaits",
            "awaits_why",
            "in_question",
            "settled_at",
            "settled_by",
            "design_version",
            "alters",
            "withdrawn_at",
        ),
        private=("answer", "answer_note", "settled_words"),
    ),
    "Received": Columns(
        derived=(
            "case",
            "item",
            "form",
            "material",
            "pour_limit_minutes",
            "taken_at",
            "came_at",
            "expected_on",
            "disinfected_by",
            "disinfected_with",
            "disinfected_minutes",
            "state",
        )
    ),
    "Resin": Columns(
        reference=(
            "name",
            "source",
            "compared_on",
            "ratio_low",
            "ratio_high",
            "dough_from",
            "dough_until",
            "room_c",
            "bpo_percent",
            "resumable",
            "active",
        )
    ),
    "RouteVersion": Columns(
        reference=("version", "document", "changes", "reason", "by", "saved_at")
    ),
    "SendBack": Columns(
        derived=(
            "case",
            "from_stage",
            "to_stage",
            "reason",
            "more_reasons",
            "reopened",
            "standing",
            "by",
            "at",
        ),
        private=("words",),
    ),
    "Shift": Columns(reference=("person", "weekday", "begins", "ends")),
    "Shipment": Columns(
        derived=(
            "number",
            "practice",
            "ship_on",
            "packed_at",
            "packed_by",
            "sent_at",
            "sent_by",
            "carrier_ref",
        )
    ),
    "ShipmentCase": Columns(derived=("shipment", "case", "alone_reason")),
    "Skill": Columns(reference=("key", "name")),
    "StageRun": Columns(
        derived=("stage", "attempt", "begun_at", "ended_at", "begun_by", "ended_by", "outcome")
    ),
    "Station": Columns(reference=("key", "name", "count")),
    "Submission": Columns(
        cache=(
            "id",
            "verb",
            "door",
            "person",
            "tablet",
            "body_hash",
            "happened_at",
            "received_at",
            "outcome",
            "code",
            "result",
        )
    ),
    "Tablet": Columns(
        reference=("name", "station", "enrolled_by", "enrolled_at", "revoked_at"),
        private=("token_hash",),
    ),
    "Thing": Columns(derived=("kind", "label", "case", "place", "state", "pour")),
    "TimeCorrection": Columns(derived=("span", "minutes_before", "minutes", "reason", "by", "at")),
    "Timer": Columns(derived=("case", "stage", "load", "step", "kind", "due_at", "state")),
    "WorkSpan": Columns(
        derived=("run", "person", "began_at", "ended_at", "ended_how", "to_check"),
        cache=("nudged_at",),
    ),
}
