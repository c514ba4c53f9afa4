"""``manage.py serve``: the whole lab in one command: web, worker and clock."""

from __future__ import annotations

import os
import socket
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from labflow.certificate import Certificate, CertificateRefused, local_certificate
from labflow.runlock import AlreadyRunning, only_one
from labflow.supervisor import Part, Supervisor, clear_queue, open_queue, parts

EVERYWHERE = "0.0.0.0"  # noqa: S104 - only when asked for with --host


class Command(BaseCommand):
    help = "Serve the lab: web pages, worker and clock in one command. Ctrl-C stops all."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help=f"{EVERYWHERE}: for tablets too")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--https", action="store_true", help="with a local certificate")

    def handle(self, *args: Any, **options: Any) -> None:
        host, port = str(options["host"]), int(options["port"])
        self._refuse_a_taken_port(host, port)
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            self._say("You start the lab as root. An ordinary account is enough, and safer.")
        names = host_names(host)
        certificate = self._certificate(names) if options["https"] else None
        try:
            with only_one(settings.VAR_DIR):
                clear_queue(settings.QUEUE_FILE)
                open_queue()
                supervisor = Supervisor(
                    parts=self._parts(host, port, names, certificate),
                    address=(host, port),
                    say=self._say,
                    welcome=welcome(names, port, certificate),
                    queue_file=settings.QUEUE_FILE,
                    https=certificate is not None,
                )
                fault = supervisor.run()
        except AlreadyRunning as error:
            raise CommandError(
                f"A lab already runs from {settings.VAR_DIR}. Stop that one first, or give this "
                "one a folder of its own with LABFLOW_VAR."
            ) from error
        if fault:
            raise CommandError(fault)

    def _say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()

    def _parts(
        self, host: str, port: int, names: list[str], certificate: Certificate | None
    ) -> list[Part]:
        files = (certificate.certificate, certificate.key) if certificate else None
        return parts(host=host, port=port, names=names, certificate=files)

    def _certificate(self, names: list[str]) -> Certificate:
        try:
            return local_certificate(folder=settings.VAR_DIR / "tls", names=names)
        except CertificateRefused as refusal:
            raise CommandError(str(refusal)) from refusal

    def _refuse_a_taken_port(self, host: str, port: int) -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((host, port))
            except OSError as error:
                raise CommandError(
                    f"Port {port} on {host} cannot be used ({error.strerror}). Choose another: "
                    f"make demo PORT={port + 1}, or manage.py serve --port {port + 1}."
                ) from error


def host_names(host: str) -> list[str]:
    """Return the names under which this machine will be asked, best first."""
    names = ["localhost", "127.0.0.1"]
    if host == EVERYWHERE:
        machine = socket.gethostname().lower()
        names = [*_own_addresses(), machine, f"{machine}.local", *names]
    elif host not in names:
        names = [host, *names]
    return names


def _own_addresses() -> list[str]:
    # Connecting a datagram socket sends nothing; it only asks which address would be used.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return []
        return [str(probe.getsockname()[0])]


def welcome(names: list[str], port: int, certificate: Certificate | None) -> str:
    """Return what a person reads when the lab is open."""
    scheme = "https" if certificate else "http"
    lines = [f"The lab is open at {scheme}://{names[0]}:{port}/ - Ctrl-C stops it."]
    if certificate:
        lines.append(
            f"Tablets must trust this lab once: bring them the file {certificate.authority} and "
            "install it as a certificate authority (in the device's security settings). "
            "Its key stays on this machine."
        )
    return "\n".join(lines)
