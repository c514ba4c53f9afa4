"""The Celery application."""

from __future__ import annotations

import os

from celery import Celery
from kombu.transport import TRANSPORT_ALIASES

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "labflow.settings")

# What the address of the embedded queue begins with.
TRANSPORT_ALIASES["sqla"] = "labflow.file_queue:Transport"

app = Celery("labflow")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
