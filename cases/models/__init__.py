"""Tables, one file per aggregate."""

from cases.models.case import (
    Case,
    Design,
    File,
    Hold,
    Note,
    Prescription,
    Promise,
    Question,
    Received,
)
from cases.models.check import CheckItem, CheckPhoto, CheckResult, Concession
from cases.models.cure import (
    BathRecord,
    CureLimitsChange,
    CureProgram,
    Load,
    LoadFlask,
    ProbeCheck,
    Resin,
)
from cases.models.cut import CutLoad, LoadExtension, PowerCut
from cases.models.dispatch import InsertionReport, Paper, PickUp, Shipment, ShipmentCase
from cases.models.feed import BathFeed, BathSample, LagRun, LoadTrace
from cases.models.mix import Mix
from cases.models.people import (
    Absence,
    BenchSession,
    ClosedDay,
    Invitation,
    Lab,
    OpenHours,
    Person,
    PersonSkill,
    Shift,
    Skill,
    Tablet,
)
from cases.models.plan import Plan, PlanCase, Planner, PlanPin, PlanStage
from cases.models.practice import Dentist, DentistAt, Practice, PracticeMember
from cases.models.record import Counter, Event, Heartbeat, Submission
from cases.models.route import (
    CaseEdge,
    CaseStage,
    Countersign,
    Mishap,
    RouteVersion,
    SendBack,
    StageRun,
    TimeCorrection,
    WorkSpan,
)
from cases.models.shop import Bath, Occupied, Station, Thing
from cases.models.timer import Alert, Delivery, Timer

__all__ = [
    "Absence", "Alert", "Bath", "BathFeed", "BathRecord", "BathSample", "BenchSession", "Case",
    "CaseEdge", "CaseStage", "CheckItem", "CheckPhoto", "CheckResult", "ClosedDay",
    "Concession", "Counter",
    "Countersign", "CureLimitsChange", "CureProgram", "CutLoad", "Delivery", "Dentist",
    "DentistAt", "Design",
    "Event", "File", "Heartbeat", "Hold", "InsertionReport", "Invitation", "Lab",
    "LagRun", "Load", "LoadExtension", "LoadFlask", "LoadTrace",
    "Mishap", "Mix", "Note", "Occupied", "OpenHours", "Paper",
    "Person", "PersonSkill", "PickUp", "Plan", "PlanCase", "PlanPin", "PlanStage", "Planner",
    "PowerCut", "Practice", "PracticeMember", "Prescription", "ProbeCheck", "Promise",
    "Question", "Received", "Resin", "RouteVersion", "SendBack", "Shift", "Shipment",
    "ShipmentCase", "Skill", "StageRun", "Station", "Submission", "Tablet", "Thing",
    "TimeCorrection", "Timer", "WorkSpan",
]  # fmt: skip
