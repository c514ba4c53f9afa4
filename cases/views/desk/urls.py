"""Addresses: the front desk: logging what came in, open cases, who is away."""

from __future__ import annotations

from django.urls import URLPattern, path

from cases.views.desk import away, log, log_plan, open_cases, papers

urlpatterns: list[URLPattern] = [
    path("", open_cases.desk, name="desk"),
    path("log/", log.log, name="log"),
    path("log/look/", log.log_look, name="log-look"),
    path("log/plan/", log_plan.ask_plan, name="log-ask-plan"),
    path("log/pages/", papers.log_pages, name="log-pages"),
    path("log/paper/<str:token>/", papers.log_paper, name="log-paper"),
    path("log/done/<str:number>/", log.logged, name="logged"),
    path("away/", away.away, name="away"),
]
