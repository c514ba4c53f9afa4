"""Addresses: the dentist's side."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
