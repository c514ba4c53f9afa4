"""Addresses: the bench: my work now, checks, waits."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
