"""Addresses: one case: its page, history, design, questions, photographs."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
