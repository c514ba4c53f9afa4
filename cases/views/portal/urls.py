"""Addresses: the dentist's side."""

from __future__ import annotations

from django.urls import path

from cases.views.portal import case, files, practice

urlpatterns = [
    path("", practice.practice, name="practice"),
    path("sent/", practice.sent, name="practice-sent"),
    path("<str:number>/", case.case, name="practice-case"),
    path("<str:number>/answer/<int:question>/", case.answer, name="practice-answer"),
    path("<str:number>/report/", case.report, name="practice-report"),
    path("<str:number>/photographs/<int:file>/", files.photograph, name="practice-photograph"),
    path("<str:number>/delivery-note/", files.delivery_note, name="practice-delivery-note"),
]
