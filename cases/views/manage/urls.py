"""Addresses: the manager's day: flow, countersigns, minutes, closing time."""

from __future__ import annotations

from django.urls import path

from cases.views.manage import closing, countersigns, minutes, today

urlpatterns = [
    path("", today.today, name="today"),
    path("closing/", closing.closing, name="closing"),
    path("countersigns/", countersigns.countersigns, name="countersigns"),
    path("countersigns/<int:pk>/", countersigns.sign, name="countersign"),
    path("minutes/", minutes.minutes, name="minutes"),
    path("minutes/<int:pk>/", minutes.correct, name="minutes-correct"),
]
