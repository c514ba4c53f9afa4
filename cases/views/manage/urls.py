"""Addresses: the manager's day: flow, countersigns, rework, closing time."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
