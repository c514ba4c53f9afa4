"""Addresses: the lab's own settings: people, hours, practices, stations, routes."""

from __future__ import annotations

from django.urls import path

from cases.views.lab import (
    design_rules,
    index,
    people,
    practices,
    profile,
    route,
    route_parts,
    shop,
)

urlpatterns = [
    path("", index.index, name="lab"),
    path("profile/", profile.profile, name="lab-profile"),
    path("people/", people.people, name="people"),
    path("people/<int:pk>/", people.person, name="person"),
    path(
        "people/<int:pk>/absences/<int:absence>/remove/",
        people.absence_remove,
        name="absence-remove",
    ),
    path("people/<int:pk>/deactivate/", people.person_deactivate, name="person-deactivate"),
    path("people/<int:pk>/activate/", people.person_activate, name="person-activate"),
    path("skills/", shop.skills, name="skills"),
    path("skills/<int:pk>/", shop.skills, name="skill-change"),
    path("hours/", profile.hours, name="hours"),
    path("closed-days/", profile.closed_days, name="closed-days"),
    path("closed-days/holidays/", profile.holidays, name="closed-days-holidays"),
    path("closed-days/<int:pk>/remove/", profile.closed_day_remove, name="closed-day-remove"),
    path("stations/", shop.stations, name="stations"),
    path("stations/<int:pk>/", shop.stations, name="station-change"),
    path("baths/", shop.baths, name="baths"),
    path("baths/<int:pk>/", shop.baths, name="bath-change"),
    path("things/", shop.things, name="things"),
    path("things/<int:pk>/retire/", shop.thing_retire, name="thing-retire"),
    path("tablets/", shop.tablets, name="tablets"),
    path("tablets/<int:pk>/revoke/", shop.tablet_revoke, name="tablet-revoke"),
    path("practices/", practices.practices, name="practices"),
    path("practices/new/", practices.practice_new, name="practice-new"),
    path("practices/<int:pk>/", practices.practice, name="practice-settings"),
    path("practices/<int:pk>/close/", practices.practice_close, name="practice-close"),
    path("practices/<int:pk>/open/", practices.practice_open, name="practice-open"),
    path(
        "practices/<int:pk>/dentists/<int:dentist>/sign-in/",
        practices.dentist_sign_in,
        name="dentist-sign-in",
    ),
    path(
        "practices/<int:pk>/reception/<int:person>/remove/",
        practices.reception_remove,
        name="reception-remove",
    ),
    path("dentists/<int:pk>/", practices.dentist, name="dentist-change"),
    path("design-rules/", design_rules.rules, name="design-rules"),
    path("route/", route.route, name="route"),
    path("route/review/", route.review, name="route-review"),
    path("route/discard/", route.discard_draft, name="route-discard"),
    path("route/versions/", route.versions, name="route-versions"),
    path("route/versions/<int:number>/", route.version, name="route-version"),
    path("route/stages/new/", route_parts.stage_new, name="route-stage-new"),
    path("route/stages/<slug:key>/", route_parts.stage, name="route-stage"),
    path("route/stages/<slug:key>/drop/", route_parts.stage_drop, name="route-stage-drop"),
    path("route/checks/new/", route_parts.check_new, name="route-check-new"),
    path("route/checks/<int:number>/", route_parts.check, name="route-check"),
    path("route/checks/<int:number>/drop/", route_parts.check_drop, name="route-check-drop"),
]
