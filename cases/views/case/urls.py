"""Addresses: one case: its page, history, design, questions, photographs."""

from __future__ import annotations

from django.urls import path

from cases.views.case import actions, asking, design, design_back, objects, orders, page, versions

urlpatterns = [
    path("<str:number>/", page.case, name="case"),
    path("<str:number>/design/", design.design, name="case-design"),
    path("<str:number>/design/preview/", design.preview, name="case-design-preview"),
    path("<str:number>/design/<int:version>/", versions.version, name="case-design-version"),
    path("<str:number>/design/<int:version>/back/", design_back.back, name="case-design-back"),
    path("<str:number>/ask/", asking.choose_question, name="case-ask-list"),
    path("<str:number>/ask/<int:question>/", asking.ask, name="case-ask"),
    path("<str:number>/questions/<int:pk>/answer/", asking.answer, name="question-answer"),
    path("<str:number>/questions/<int:pk>/settle/", asking.settle, name="answer-settle"),
    path("<str:number>/questions/<int:pk>/withdraw/", asking.withdraw, name="question-withdraw"),
    path("<str:number>/hold/", asking.hold, name="case-hold"),
    path("<str:number>/holds/<int:pk>/release/", asking.release, name="hold-release"),
    path("<str:number>/note/", actions.note, name="case-note"),
    path("<str:number>/photograph/", actions.photograph, name="case-photograph"),
    path("<str:number>/promise/", actions.promise, name="case-promise"),
    path("<str:number>/stages/<int:pk>/assign/", actions.assign, name="stage-assign"),
    path("<str:number>/stages/<int:pk>/skip/", actions.skip, name="stage-skip"),
    path("<str:number>/stages/<int:pk>/back/", actions.came_back, name="stage-back"),
    path("<str:number>/send-back/", actions.back, name="case-send-back"),
    path("<str:number>/cancel/", actions.cancel, name="case-cancel"),
    path("<str:number>/order/", orders.correct, name="order-correct"),
    path("<str:number>/order/change/", asking.change, name="order-change"),
    path("<str:number>/new-impression/", orders.new_impression, name="case-new-impression"),
    path("<str:number>/received/<int:pk>/", orders.came, name="received-came"),
    path("<str:number>/remake/", orders.remake, name="case-remake"),
    path("<str:number>/things/<int:pk>/put/", objects.put, name="thing-put"),
    path("<str:number>/things/<int:pk>/gone/", objects.gone, name="thing-gone"),
]
