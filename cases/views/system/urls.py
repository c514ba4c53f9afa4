"""Addresses: alarms, files and the program's own health."""

from __future__ import annotations

from django.urls import path

from cases.views.system import alarms, feed, files, health

urlpatterns = [
    path("alarms/", alarms.alarms, name="alarms"),
    path("alarms/acknowledge/", alarms.acknowledged, name="alarm-acknowledge"),
    path("files/<int:pk>/", files.file, name="file"),
    path("feed/", feed.feed, name="feed"),
    path("health/", health.health, name="health"),
]
