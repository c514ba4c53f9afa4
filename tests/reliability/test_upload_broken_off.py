"""A record that breaks off while it is sent: nothing is half-stored, and it can be sent again."""

from __future__ import annotations

import socket
import time
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.utils import timezone

from cases.models import BathFeed, BathRecord, BathSample, Submission
from cases.services import feeds
from cases.services.bath_raw import raw_of
from tests.bath_records import iso_csv, make_load
from tests.factories import Shop, make_shop
from tests.reliability.house import CSRF, HOST, House, until

pytestmark = [
    pytest.mark.production,
    pytest.mark.django_db(transaction=True),
    pytest.mark.timeout(300),
]


@pytest.fixture
def shop() -> Shop:
    return make_shop()


@pytest.fixture
def house(tmp_path: Path, shop: Shop) -> Iterator[House]:
    found = House(tmp_path)
    found.sign_in(shop.people["mara"].user)
    try:
        found.start("broker")
        found.start("web")
        yield found
    finally:
        found.close()


def request(house: House, path: str, kind: str, body: bytes, *headers: str) -> bytes:
    cookies = "; ".join(f"{name}={value}" for name, value in house.cookies.items())
    head = [
        f"POST {path} HTTP/1.1", f"Host: {HOST}", f"Cookie: {cookies}", f"Content-Type: {kind}",
        f"Content-Length: {len(body)}", "Connection: close", *headers,
    ]  # fmt: skip
    return "\r\n".join([*head, "", ""]).encode() + body


def upload(house: House, load: int) -> bytes:
    """Return the whole request of a record that is sent by the page."""
    mark = uuid.uuid4().hex
    fields = {
        "csrfmiddlewaretoken": CSRF, "submission_id": str(uuid.uuid4()), "probe_at": "bath",
        "probe": "A", "typed": "",
    }  # fmt: skip
    parts = [
        f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in fields.items()
    ]
    head = 'Content-Disposition: form-data; name="file"; filename="bath.csv"'
    parts.append(f"--{mark}\r\n{head}\r\nContent-Type: text/csv\r\n\r\n".encode() + iso_csv())
    parts.append(f"\r\n--{mark}--\r\n".encode())
    kind = f"multipart/form-data; boundary={mark}"
    return request(house, f"/loads/{load}/record/", kind, b"".join(parts))


def send(house: House, data: bytes) -> str:
    """Send a request as it is, whole or not; return the first line of the answer."""
    with socket.create_connection((HOST, house.ports["web"]), timeout=30) as channel:
        channel.sendall(data)
        channel.shutdown(socket.SHUT_WR)
        answer = b""
        while more := channel.recv(4096):
            answer += more
    return answer.partition(b"\r\n")[0].decode()


def stored() -> list[Path]:
    return [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]


def test_file_that_breaks_off_leaves_nothing_and_is_sent_again(house: House, shop: Shop) -> None:
    load = make_load(shop).number
    whole = upload(house, load)

    for share in (0.3, 0.6, 0.95):
        send(house, whole[: int(len(whole) * share)])
    # And one whose server dies while it comes in.
    with socket.create_connection((HOST, house.ports["web"]), timeout=30) as channel:
        channel.sendall(whole[: len(whole) // 2])
        time.sleep(0.3)
        house.kill("web")
    left, records = stored(), BathRecord.objects.count()
    house.start("web")
    answer = send(house, whole)

    assert (left, records) == ([], 0)
    assert " 303 " in answer
    (file,) = stored()
    raw = raw_of(file.stem)
    assert raw is not None
    assert raw.data == iso_csv()


def test_live_rows_that_break_off_leave_nothing(house: House, shop: Shop) -> None:
    bath: Any = make_load(shop).bath
    token = feeds.open_to_token(shop.envelope("pavo"), bath=bath.pk)[1]
    now = timezone.now().timestamp()
    body = "\n".join(f"{now - 60 * n:.0f},74.0" for n in range(60)).encode()
    before = Submission.objects.count()
    whole = request(house, "/feed/", "text/csv", body, f"Authorization: Bearer {token}")

    send(house, whole[: len(whole) - len(body) // 2])
    broken = BathSample.objects.count()
    answer = send(house, whole)

    assert broken == 0
    assert " 200 " in answer
    assert until(lambda: BathSample.objects.count() == 60)
    assert BathFeed.objects.get().last_celsius == 74.0
    assert Submission.objects.count() == before
