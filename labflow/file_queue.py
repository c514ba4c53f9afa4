"""The queue of an embedded lab: a file, which its workers look at."""

from __future__ import annotations

from kombu.transport import sqlalchemy


class Transport(sqlalchemy.Transport):
    """Kombu's queue in a database, looked at more often than each second.

    The option of that name cannot be set: it is handed on to the database's driver, which
    refuses it.
    """

    polling_interval = 0.25
    """Seconds between two looks: half of it is what a nudge waits on the average. Measured: a
    worker that waits uses less than one hundredth of a core."""
