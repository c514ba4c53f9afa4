"""Every address of the app, one module a page family."""

from __future__ import annotations

from django.urls import include, path

app_name = "cases"

urlpatterns = [
    path("", include("cases.views.account.urls")),
    path("", include("cases.views.system.urls")),
    path("bench/", include("cases.views.bench.urls")),
    path("desk/", include("cases.views.desk.urls")),
    path("cases/", include("cases.views.case.urls")),
    path("practice/", include("cases.views.portal.urls")),
    path("manage/", include("cases.views.manage.urls")),
    path("van/", include("cases.views.dispatch.urls")),
    path("lab/", include("cases.views.lab.urls")),
    path("plan/", include("cases.views.plan.urls")),
    path("wall/", include("cases.views.wall.urls")),
    path("loads/", include("cases.views.load.urls")),
]
