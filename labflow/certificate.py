"""A certificate for the lab's own network, so that tablets may use their camera.

Browsers give a page the camera only over https. The lab makes its own authority once; a tablet
that trusts the authority trusts every certificate the lab makes later. The authority's key never
leaves this machine.
"""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

AUTHORITY_DAYS = 3650
"""How long the lab's authority lasts, in days. Source: judgement."""

CERTIFICATE_DAYS = 397
"""How long one certificate lasts, in days; browsers refuse more than 398.

Source: CA/Browser Forum, Baseline Requirements, section 6.3.2, from memory.
"""

RENEW_SECONDS = 30 * 24 * 3600
"""A certificate with less than this left is made anew, in seconds. Source: judgement."""


class CertificateRefused(Exception):
    """No certificate could be made; the text says why."""


@dataclass(frozen=True, kw_only=True)
class Certificate:
    """The files a server needs, and the one a tablet needs."""

    certificate: Path
    key: Path
    authority: Path


def local_certificate(*, folder: Path, names: Sequence[str]) -> Certificate:
    """Return a certificate for ``names``; make it and the lab's authority where needed.

    Parameters
    ----------
    folder
        Where the files are kept, readable by their owner only.
    names
        Host names and addresses that tablets will type.

    Raises
    ------
    CertificateRefused
        When openssl is missing or fails.
    """
    if shutil.which("openssl") is None:
        raise CertificateRefused(
            "openssl is not installed. Install it (Debian: apt-get install openssl)."
        )
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    files = Certificate(
        certificate=folder / "lab.pem", key=folder / "lab.key", authority=folder / "authority.pem"
    )
    authority_key = folder / "authority.key"
    if not (files.authority.exists() and authority_key.exists()):
        _make_authority(files.authority, authority_key)
        files.certificate.unlink(missing_ok=True)
    wanted = ",".join(_alternative(name) for name in dict.fromkeys(names))
    noted = folder / "names.txt"
    if (
        files.certificate.exists()
        and noted.exists()
        and noted.read_text(encoding="utf-8") == wanted
        and _lasts(files.certificate)
    ):
        return files
    _make_certificate(files, authority_key, wanted)
    noted.write_text(wanted, encoding="utf-8")
    return files


def _alternative(name: str) -> str:
    try:
        return f"IP:{ip_address(name)}"
    except ValueError:
        return f"DNS:{name}"


def _lasts(certificate: Path) -> bool:
    command = [
        "openssl",
        "x509",
        "-checkend",
        str(RENEW_SECONDS),
        "-noout",
        "-in",
        str(certificate),
    ]
    return subprocess.run(command, capture_output=True, check=False).returncode == 0  # noqa: S603


def _make_authority(certificate: Path, key: Path) -> None:
    _openssl(
        "req", "-x509", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1",
        "-nodes", "-sha256", "-days", str(AUTHORITY_DAYS), "-subj", "/CN=labflow on this network",
        "-addext", "keyUsage=critical,keyCertSign,cRLSign",
        "-keyout", str(key), "-out", str(certificate),
    )  # fmt: skip
    os.chmod(key, 0o600)


def _make_certificate(files: Certificate, authority_key: Path, names: str) -> None:
    request = files.certificate.with_suffix(".csr")
    extensions = files.certificate.with_suffix(".ext")
    extensions.write_text(
        f"subjectAltName={names}\nextendedKeyUsage=serverAuth\nbasicConstraints=CA:FALSE\n",
        encoding="utf-8",
    )
    try:
        _openssl(
            "req", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes",
            "-subj", "/CN=labflow", "-keyout", str(files.key), "-out", str(request),
        )  # fmt: skip
        os.chmod(files.key, 0o600)
        _openssl(
            "x509", "-req", "-sha256", "-days", str(CERTIFICATE_DAYS), "-in", str(request),
            "-CA", str(files.authority), "-CAkey", str(authority_key), "-CAcreateserial",
            "-extfile", str(extensions), "-out", str(files.certificate),
        )  # fmt: skip
    finally:
        request.unlink(missing_ok=True)
        extensions.unlink(missing_ok=True)


def _openssl(*arguments: str) -> None:
    command = ["openssl", *arguments]
    done = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603
    if done.returncode != 0:
        raise CertificateRefused(f"openssl {arguments[0]} failed: {done.stderr.strip()}")
