"""``manage.py plan``: plan the lab now, without a worker, and say what came out."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from cases.models import Lab, Plan, PlanCase
from cases.services.plan_publish import row
from cases.services.planner import get_ready, improve, mend


class Command(BaseCommand):
    help = "Plan the lab as it is now, and improve the plan for some seconds."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--seconds", type=float, default=0.0, help="how long to look for a better plan"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not Lab.objects.filter(set_up_at__isnull=False).exists():
            raise CommandError("The lab is not set up yet: there is nothing to plan.")
        get_ready()
        now = timezone.now()
        plan = mend(now)
        if plan is None:
            raise CommandError(f"The plan was refused: {row().fault}")
        self._say(plan)
        if options["seconds"] > 0:
            better = improve(now, plan, options["seconds"])
            if better is None:
                self.stdout.write("No better plan was found.")
            else:
                self._say(better)

    def _say(self, plan: Plan) -> None:
        late = PlanCase.objects.filter(plan=plan, late_minutes__gt=0).count()
        self.stdout.write(
            f"Plan {plan.pk} ({plan.how}): {PlanCase.objects.filter(plan=plan).count()} cases "
            f"leave, {late} of them late, weighted lateness {plan.lateness / 60:.1f} h, "
            f"{len(plan.unplanned)} stages without a place, {plan.seconds:.2f} s."
        )
