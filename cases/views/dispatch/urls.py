"""Addresses: packing, papers and the van."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
