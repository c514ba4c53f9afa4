"""Addresses: alarms, files and the program's own health."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
