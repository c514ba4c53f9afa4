"""Addresses: the front desk: logging what came in, open cases, look-up."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
