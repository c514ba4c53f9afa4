"""The Django project: settings, addresses, the clock's door. No lab logic."""

from labflow.celery import app as celery_app

__all__ = ["celery_app"]
