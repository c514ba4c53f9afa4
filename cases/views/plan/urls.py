"""Addresses: the plan by day, by week, by stage; what will be late; the planner's state."""

from __future__ import annotations

from django.urls import path

from cases.views.plan import day, late, promise, stage, state, week

urlpatterns = [
    path("", day.day, name="plan"),
    path("week/", week.week, name="plan-week"),
    path("late/", late.late, name="plan-late"),
    path("promise/", promise.promise, name="plan-promise"),
    path("state/", state.state, name="plan-state"),
    path("stop/", state.stop, name="plan-stop"),
    path("stage/<int:pk>/", stage.stage, name="plan-stage"),
    path("stage/<int:pk>/decide/", stage.decide, name="plan-pin"),
]
