"""Addresses: signing in, invitations, passwords, tablets and PINs."""

from __future__ import annotations

from django.urls import path

from cases.views.account import bench, first_run, home, password, sign_in

urlpatterns = [
    path("", home.home, name="home"),
    path("set-up/", first_run.first_run, name="first-run"),
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-out/", sign_in.sign_out, name="sign-out"),
    path("invitation/<str:token>/", sign_in.invitation, name="invitation"),
    path("account/", home.account, name="account"),
    path("account/password/", password.change, name="password-change"),
    path("account/pin/", bench.own_pin, name="own-pin"),
    path("password/", password.reset, name="password-reset"),
    path("password/sent/", password.reset_sent, name="password-reset-sent"),
    path("password/<uidb64>/<token>/", password.reset_confirm, name="password-reset-confirm"),
    path("bench/who/", bench.names, name="bench-names"),
    path("bench/who/<int:pk>/", bench.pin, name="bench-pin"),
    path("bench/lock/", bench.lock, name="bench-lock"),
    path("bench/leave/", bench.leave, name="bench-leave"),
]
