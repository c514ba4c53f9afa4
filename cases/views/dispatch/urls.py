"""Addresses: packing, papers and the van."""

from __future__ import annotations

from django.urls import path

from cases.views.dispatch import box, pack, papers, rounds, van

urlpatterns = [
    path("", van.van, name="van"),
    path("pack/<int:pk>/", pack.pack, name="pack"),
    path("boxes/<str:number>/", box.box, name="box"),
    path("boxes/<str:number>/send/", box.send_box, name="box-send"),
    path("boxes/<str:number>/unpack/<int:pk>/", box.unpack_case, name="box-unpack"),
    path("boxes/<str:number>/note/", papers.note, name="box-note"),
    path("round/", rounds.van_round, name="van-round"),
    path("round/print/", rounds.print_round, name="van-print"),
    path("fetched/<int:pk>/", rounds.fetched, name="pick-up-done"),
    path("ticket/<str:number>/", papers.ticket, name="ticket"),
    path("label/<str:number>/", papers.label, name="label"),
    path("day/", papers.day_print, name="day-print"),
    path("papers/<int:pk>/", papers.paper, name="paper"),
]
