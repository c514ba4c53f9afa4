"""Addresses: the lab's own settings: people, hours, practices, stations, routes."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
