"""Addresses: loads of the baths and what belongs to them."""

from __future__ import annotations

from django.urls import path, re_path

from cases.views.load import cut, loads, longer, record, remedies, shorten

urlpatterns = [
    path("", loads.all_loads, name="loads"),
    path("new/", loads.new_load, name="load-new"),
    path("power-cut/", cut.new, name="cut-new"),
    path("power-cut/<int:pk>/", cut.cut, name="cut"),
    path("<int:number>/", loads.load, name="load"),
    path("<int:number>/act/", loads.act, name="load-act"),
    path("<int:number>/remedies/", remedies.remedies, name="load-remedies"),
    path("<int:number>/longer/", longer.longer, name="load-longer"),
    path("before-its-time/<int:pk>/", shorten.shorten, name="wait-shorten"),
    path("<int:number>/record/", record.new, name="bath-record-new"),
    # A hash is told from a key by its length, even one without a letter.
    re_path(
        r"^(?P<number>\d+)/record/(?P<sha256>[0-9a-f]{64})/$", record.read, name="bath-record-read"
    ),
    path("<int:number>/record/<int:pk>/", record.record, name="bath-record"),
    path("<int:number>/record/<int:pk>/raw/", record.raw_file, name="bath-record-raw"),
]
