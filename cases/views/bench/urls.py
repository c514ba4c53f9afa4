"""Addresses: the bench: my work now, checks, waits."""

from __future__ import annotations

from django.urls import path

from cases.views.bench import after_lock, batch, checks, dough, plan_now, small, stage, turns, work

urlpatterns = [
    path("", work.bench, name="bench"),
    path("now/", plan_now.plan_now, name="bench-now"),
    path("put-down/", after_lock.put_down, name="bench-put-down"),
    path("take/", work.take, name="bench-take"),
    path("batch/<slug:key>/", batch.batch, name="bench-batch"),
    path("batch/<slug:key>/undo/", batch.undo, name="bench-batch-undo"),
    path("stage/<int:pk>/", stage.stage, name="bench-stage"),
    path("stage/<int:pk>/start/", stage.start, name="bench-start"),
    path("stage/<int:pk>/pause/", stage.pause, name="bench-pause"),
    path("stage/<int:pk>/resume/", stage.resume, name="bench-resume"),
    path("stage/<int:pk>/finish/", stage.finish, name="bench-finish"),
    path("stage/<int:pk>/came-back/", stage.came_back, name="bench-came-back"),
    path("stage/<int:pk>/undo/", stage.undo, name="bench-undo"),
    path("stage/<int:pk>/back/", turns.back, name="bench-back"),
    path("stage/<int:pk>/hold/", turns.hold, name="bench-hold"),
    path("stage/<int:pk>/release/", turns.release, name="bench-release"),
    path("stage/<int:pk>/skip/", turns.skip, name="bench-skip"),
    path("stage/<int:pk>/ask/", turns.ask, name="bench-ask"),
    path("stage/<int:pk>/hand-over/", small.hand, name="bench-hand-over"),
    path("stage/<int:pk>/note/", small.note, name="bench-note"),
    path("stage/<int:pk>/mishap/", small.mishap, name="bench-mishap"),
    path("stage/<int:pk>/place/", small.place, name="bench-place"),
    path("stage/<int:pk>/thing/<int:thing>/", small.put, name="bench-put"),
    path("stage/<int:pk>/dough/", dough.dough, name="bench-dough"),
    path("stage/<int:pk>/mixed/", dough.mixed, name="bench-mixed"),
    path("stage/<int:pk>/closed/", dough.closed, name="bench-closed"),
    path("check/<int:pk>/", checks.enter, name="bench-check"),
    path("check/<int:pk>/photograph/", checks.photograph, name="bench-check-photo"),
    path("check/<int:pk>/accept/", checks.accept, name="bench-accept"),
    path("countersign/<int:pk>/", checks.sign, name="bench-sign"),
    path("minutes/<int:pk>/", small.minutes, name="bench-minutes"),
    path("minutes/<int:pk>/right/", small.confirm, name="bench-minutes-right"),
]
