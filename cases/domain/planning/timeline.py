"""What is taken of a person's hands, of a station and of a thing, with rooms in any order.

Hands are kept in *worked* minutes: minute 480 is the first of the second day of eight hours.
There work over a night is one piece, and a full day one entry, so that looking for room is
quick however long the plan is.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort

from cases.domain.planning.shop import NEVER, Hours


class Hands:
    """One person's time. All that is asked and told is in minutes of the problem."""

    __slots__ = ("before", "ends", "from_", "starts", "until", "worked")

    def __init__(self, hours: Hours) -> None:
        self.starts, self.ends = hours.starts, hours.ends
        self.before, self.worked = hours.worked_before, hours.worked
        self.from_: list[int] = []
        self.until: list[int] = []

    def _worked_at(self, instant: int) -> int:
        """Return how many minutes are worked before an instant."""
        at = bisect_right(self.starts, instant) - 1
        if at < 0:
            return 0
        return self.before[at] + min(instant, self.ends[at]) - self.starts[at]

    def works_at(self, instant: int) -> bool:
        """Return whether the person is at work."""
        at = bisect_right(self.starts, instant) - 1
        return at >= 0 and instant < self.ends[at]

    def room(self, instant: int, minutes: int, pausable: bool) -> tuple[int, int]:
        """Return start and end of the first room from an instant on, (NEVER, NEVER) if none."""
        before, worked, from_, until = self.before, self.worked, self.from_, self.until
        if not worked:
            return NEVER, NEVER
        now, total = self._worked_at(instant), worked[-1]
        next_ = bisect_right(from_, now)
        if next_ and until[next_ - 1] > now:
            now = until[next_ - 1]
        count = len(from_)
        while True:
            while next_ < count and from_[next_] < now + minutes:
                now = until[next_]
                next_ += 1
            if now + minutes > total:
                return NEVER, NEVER
            at = bisect_right(before, now) - 1
            if pausable or now + minutes <= worked[at]:
                break
            if at + 1 == len(before):
                return NEVER, NEVER
            now = before[at + 1]
            while next_ < count and from_[next_] <= now:
                now = max(now, until[next_])
                next_ += 1
        start = self.starts[at] + now - before[at]
        if now + minutes > worked[at]:
            at = bisect_left(worked, now + minutes)
        return start, self.starts[at] + now + minutes - before[at]

    def take(self, start: int, end: int) -> None:
        """Take what is worked of [start, end), which must be free."""
        begun, ended = self._worked_at(start), self._worked_at(end)
        if ended <= begun:
            return
        from_, until = self.from_, self.until
        at = bisect_left(from_, begun)
        left = at > 0 and until[at - 1] >= begun
        right = at < len(from_) and from_[at] <= ended
        if left and right:
            until[at - 1] = until[at]
            del from_[at], until[at]
        elif left:
            until[at - 1] = ended
        elif right:
            from_[at] = begun
        else:
            from_.insert(at, begun)
            until.insert(at, ended)

    def give_back(self, start: int, end: int) -> None:
        """Give back what was taken of [start, end)."""
        begun, ended = self._worked_at(start), self._worked_at(end)
        if ended <= begun:
            return
        from_, until = self.from_, self.until
        at = bisect_right(from_, begun) - 1
        first, last = from_[at], until[at]
        del from_[at], until[at]
        if last > ended:
            from_.insert(at, ended)
            until.insert(at, last)
        if first < begun:
            from_.insert(at, first)
            until.insert(at, begun)


class Places:
    """A station: how many of its places are taken when."""

    __slots__ = ("at", "count", "taken")

    def __init__(self, count: int) -> None:
        self.count = count
        self.at, self.taken = [-NEVER], [0]

    def full(self, start: int, end: int) -> int:
        """Return when a place gets free again in [start, end), or -1 when there is one."""
        if end <= start:
            return -1
        at, taken = self.at, self.taken
        now, size = bisect_right(at, start) - 1, len(at)
        while now < size and at[now] < end:
            if taken[now] >= self.count:
                while taken[now] >= self.count:
                    now += 1
                return at[now]
            now += 1
        return -1

    def _step(self, instant: int) -> int:
        now = bisect_left(self.at, instant)
        if now == len(self.at) or self.at[now] != instant:
            self.at.insert(now, instant)
            self.taken.insert(now, self.taken[now - 1])
        return now

    def take(self, start: int, end: int, by: int = 1) -> None:
        """Take a place in [start, end), or with ``by`` -1 give it back."""
        if end > start:
            first = self._step(start)
            for now in range(first, self._step(end)):
                self.taken[now] += by


class Store:
    """A thing in its count: from when on each piece that nobody holds is free.

    More may be held than there are; then the first that are given back are free for nobody.
    """

    __slots__ = ("free", "owed")

    def __init__(self, free: int) -> None:
        self.free = [0] * max(0, free)
        self.owed = max(0, -free)

    def count(self) -> int:
        """Return how many pieces are free at some time."""
        return len(self.free) - self.owed

    def soonest(self, pieces: int = 1) -> int:
        """Return when so many pieces are free, NEVER when too many are held without an end."""
        at = self.owed + pieces - 1
        return self.free[at] if at < len(self.free) else NEVER

    def take(self, start: int) -> int:
        """Take the piece that got free last before ``start``; return since when it was."""
        return self.free.pop(bisect_right(self.free, start) - 1)

    def give_back(self, instant: int) -> None:
        """A piece is free from an instant on."""
        insort(self.free, instant)
