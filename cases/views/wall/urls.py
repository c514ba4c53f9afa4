"""The address of the wall."""

from __future__ import annotations

from django.urls import path

from cases.views.wall import page

urlpatterns = [path("", page.wall, name="wall")]
