"""A case, what was ordered, what came for it, and what was asked about it."""

from __future__ import annotations

from django.db import models


class Prescription(models.Model):
    """What the dentist ordered, as received. Never altered."""

    practice = models.ForeignKey(
        "cases.Practice", on_delete=models.PROTECT, related_name="prescriptions"
    )
    dentist = models.ForeignKey(
        "cases.Dentist", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    patient_ref = models.CharField(max_length=16)
    as_received = models.JSONField(default=dict)
    signed = models.BooleanField(default=False)
    licence_given = models.BooleanField(default=False)
    received_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.practice} {self.patient_ref}"


class Case(models.Model):
    """One appliance for one patient of one practice.

    ``state``: ``open``, ``packed``, ``sent``, ``cancelled``. ``order`` is the order as it stands
    after later entries (``Prescription.as_received`` keeps what came); ``work_order`` the facts
    of it that shape the route (``cases.domain.design.WorkOrder``). ``version`` guards hold,
    cancel, order and design.
    """

    number = models.CharField(max_length=14, unique=True)
    prescription = models.ForeignKey(Prescription, on_delete=models.PROTECT, related_name="cases")
    practice = models.ForeignKey("cases.Practice", on_delete=models.PROTECT, related_name="cases")
    patient_ref = models.CharField(max_length=16)
    arch = models.CharField(max_length=5)
    kind = models.CharField(max_length=12, default="new")
    state = models.CharField(max_length=10, default="open")
    version = models.PositiveIntegerField(default=1)
    order = models.JSONField(default=dict)
    work_order = models.JSONField(default=dict)
    template = models.ForeignKey("cases.RouteVersion", on_delete=models.PROTECT, related_name="+")
    twin = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    remake_of = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="remakes"
    )
    remake_reason = models.CharField(max_length=40, blank=True, default="")
    remake_origin = models.CharField(max_length=40, blank=True, default="")
    rush = models.BooleanField(default=False)
    contaminated = models.BooleanField(default=False)
    appointment_on = models.DateField(null=True, blank=True)
    appointment_at = models.TimeField(null=True, blank=True)
    needed_on = models.DateField(null=True, blank=True)
    promised_on = models.DateField(null=True, blank=True)
    first_promised_on = models.DateField(null=True, blank=True)
    leaves_at = models.DateTimeField(null=True, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    pour_by = models.DateTimeField(null=True, blank=True)
    design = models.ForeignKey(
        "cases.Design", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    logged_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_reason = models.CharField(max_length=80, blank=True, default="")

    class Meta:
        ordering = ("leaves_at", "pk")
        constraints = [
            models.CheckConstraint(
                condition=models.Q(arch__in=["upper", "lower"]), name="case_arch"
            ),
            models.CheckConstraint(
                condition=models.Q(state__in=["open", "packed", "sent", "cancelled"]),
                name="case_state",
            ),
        ]
        indexes = [
            models.Index(fields=["state", "leaves_at", "id"], name="case_open_list"),
            models.Index(fields=["practice", "patient_ref", "arch"], name="case_same_patient"),
        ]

    def __str__(self) -> str:
        return self.number


class Received(models.Model):
    """One thing that came in the box, or that follows later (``came_at`` empty)."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="received")
    item = models.CharField(max_length=20)
    form = models.CharField(max_length=20)
    material = models.CharField(max_length=30, blank=True, default="")
    pour_limit_minutes = models.PositiveIntegerField(null=True, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    came_at = models.DateTimeField(null=True, blank=True)
    expected_on = models.DateField(null=True, blank=True)
    disinfected_by = models.CharField(max_length=20, blank=True, default="")
    disinfected_with = models.CharField(max_length=60, blank=True, default="")
    disinfected_minutes = models.PositiveSmallIntegerField(null=True, blank=True)
    state = models.CharField(max_length=10, default="here")

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        return f"{self.case} {self.item}"


class Design(models.Model):
    """One version of the technician's plan of the appliance (``domain.design.Design``).

    ``asked_by``: who wished the change, ``lab`` or ``practice``; empty where nothing drawn was
    changed. ``standing``: finished stages that it put in question and that were left standing,
    each with why; of a draft, what is written of that so far.
    """

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="designs")
    version = models.PositiveIntegerField()
    data = models.JSONField()
    reason = models.CharField(max_length=200, blank=True, default="")
    asked_by = models.CharField(max_length=10, blank=True, default="")
    standing = models.JSONField(default=dict)
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    made_at = models.DateTimeField()

    class Meta:
        ordering = ("version",)
        constraints = [
            models.UniqueConstraint(fields=["case", "version"], name="design_version_once")
        ]

    def __str__(self) -> str:
        return f"{self.case} v{self.version}"


class Question(models.Model):
    """A question to the practice, written out, with the answers to choose from.

    ``number`` is the question's number in the lab's list (``cases.domain.questions``);
    ``stops`` the stage keys that wait for the answer. ``changed`` names the entries of the order
    that the answer changed by itself; ``awaits`` what somebody still has to do with it and
    ``awaits_why`` why (``cases.domain.answer_order``), ``in_question`` the stages done before it
    came. ``settled_at``: somebody has done it, or said that nothing is needed.
    ``design_version``: the version of the design that stood when it was asked, 0 where nobody
    kept it. ``alters``: where that version alters what was agreed, as key and teeth; the question
    then asks the practice to agree to it.
    """

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="questions")
    number = models.PositiveSmallIntegerField()
    subject = models.CharField(max_length=60, blank=True, default="")
    words = models.CharField(max_length=400)
    answers = models.JSONField(default=list)
    stops = models.JSONField(default=list)
    reception_may = models.BooleanField(default=False)
    asked_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    asked_at = models.DateTimeField()
    answer = models.CharField(max_length=400, blank=True, default="")
    answer_note = models.TextField(blank=True, default="")
    answered_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_how = models.CharField(max_length=12, blank=True, default="")
    changed = models.JSONField(default=list)
    awaits = models.CharField(max_length=10, blank=True, default="")
    awaits_why = models.CharField(max_length=12, blank=True, default="")
    in_question = models.JSONField(default=list)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    settled_words = models.TextField(blank=True, default="")
    design_version = models.PositiveIntegerField(default=0)
    alters = models.JSONField(default=list)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("asked_at", "pk")

    def __str__(self) -> str:
        return self.words

    @property
    def unsettled(self) -> bool:
        """Whether somebody still has to do something with the answer."""
        return bool(self.awaits) and self.settled_at is None


class Hold(models.Model):
    """A stop with whom it waits for. Without ``stages`` it covers the whole case.

    ``expected_on``: when it is expected to end, where somebody said so; plans reckon with it.
    """

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="holds")
    stages = models.JSONField(default=list)
    reason = models.CharField(max_length=40)
    words = models.CharField(max_length=200, blank=True, default="")
    waits_for = models.CharField(max_length=20)
    expected_on = models.DateField(null=True, blank=True)
    question = models.ForeignKey(
        Question, null=True, blank=True, on_delete=models.PROTECT, related_name="holds"
    )
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    opened_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True)
    released_by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ("opened_at", "pk")
        indexes = [
            models.Index(
                fields=["case"], condition=models.Q(released_at__isnull=True), name="hold_open"
            )
        ]

    def __str__(self) -> str:
        return f"{self.case}: {self.reason}"


class Promise(models.Model):
    """A date given to the practice; a later one never overwrites an earlier one."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="promises")
    ship_on = models.DateField()
    reason = models.CharField(max_length=200, blank=True, default="")
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    given_at = models.DateTimeField()

    class Meta:
        ordering = ("given_at", "pk")

    def __str__(self) -> str:
        return f"{self.case}: {self.ship_on}"


class Note(models.Model):
    """A note on a case. ``from_whom`` is set when somebody rang or came to the counter."""

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="notes")
    text = models.TextField()
    kind = models.CharField(max_length=12, default="note")
    from_whom = models.CharField(max_length=60, blank=True, default="")
    to_person = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    visible_to_practice = models.BooleanField(default=False)
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    at = models.DateTimeField()

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return self.text[:60]


class File(models.Model):
    """A stored picture or document. ``sha256`` is of the stored (re-encoded) bytes."""

    case = models.ForeignKey(
        Case, null=True, blank=True, on_delete=models.PROTECT, related_name="files"
    )
    kind = models.CharField(max_length=20)
    sha256 = models.CharField(max_length=64)
    content_type = models.CharField(max_length=40)
    size = models.PositiveIntegerField()
    path = models.CharField(max_length=120)
    words = models.CharField(max_length=120, blank=True, default="")
    visible_to_practice = models.BooleanField(default=False)
    by = models.ForeignKey(
        "cases.Person", null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    at = models.DateTimeField()

    class Meta:
        ordering = ("at", "pk")

    def __str__(self) -> str:
        return f"{self.kind} {self.sha256[:12]}"
