"""Addresses: signing in, invitations, passwords, tablets and PINs."""

from __future__ import annotations

from django.urls import URLPattern

urlpatterns: list[URLPattern] = []
