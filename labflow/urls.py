"""All addresses are the lab's; static files are served before Django is asked."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [path("", include("cases.urls"))]
