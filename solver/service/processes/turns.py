"""Whose turn it is: on how many slots each job is solved now. Knows neither processes nor the clock.

A slot is one solve at a time. Every job has a first turn, of FIRST_S seconds of a slot; what is not over then goes to
the back of the line of long ones, whose turns last TURN_S while others wait. Whoever loses its slot is paused and loses
nothing. A first turn begins at once, in place of a long one; but while long ones wait, first turns have no more than
half of all slots in the long run (they may be AHEAD_S ahead). In both lines senders have equal shares, and the jobs of
each take turns among themselves.

Long ones keep what they hold in memory while they are paused: their number is limited (`places`). What is beyond is not
begun, or given up after its first turn and begun anew when there is room; nothing but first turns is ever lost. A sweep
leaves its place after the points it is at, once it has had it for PLACE_S and others wait for one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import count
from typing import Literal

FIRST_S = 2.0
TURN_S = 5.0
AHEAD_S = 4.0
PLACE_S = 60.0
TICK_S = 0.25  # so often is looked whether a turn is over, while anybody waits [s]

Line = Literal["first", "long"]


@dataclass(frozen=True)
class Order:
    """What is to be done with a job: it has so many slots from now on (0: it is paused); or its processes are to end,
    "now" or "soon", which is after the points that it is at."""

    job: str
    slots: int
    leave: Literal["", "now", "soon"] = ""


@dataclass
class _Job:
    """wish: slots that it could use; many: it has points between which it can leave; used: slot-seconds so far; since:
    when each of its slots was given; begun: since when it has processes; told: the slots that it knows of."""

    name: str
    sender: int
    wish: int
    many: bool
    ticket: int
    used: float = 0.0
    since: list[float] = field(default_factory=list)
    begun: float | None = None
    leave: Literal["", "now", "soon"] = ""
    told: tuple[int, str] = (0, "")
    fresh: bool = True  # its first turn has not ended yet

    @property
    def line(self) -> Line:
        return "first" if self.used < FIRST_S else "long"


@dataclass
class _Sender:
    """jobs: how many; slots: that they have; used: slot-seconds so far in each line, on one scale with the others."""

    jobs: int = 0
    slots: int = 0
    used: dict[Line, float] = field(default_factory=lambda: {"first": 0.0, "long": 0.0})

    def share(self, line: Line) -> float:
        """What it has had, and is about to have."""
        return self.used[line] + (FIRST_S if line == "first" else TURN_S) * self.slots


class Turns:
    """All jobs that are to be solved. slots: solves at a time; places: long ones in memory; room: whether the machine
    has memory for one more than `slots` of them. Times are seconds on one clock, and never go back."""

    def __init__(self, slots: int, places: int, room: Callable[[], bool] = lambda: True) -> None:
        self._slots, self._places, self._room = slots, max(places, slots), room
        self._jobs: dict[str, _Job] = {}
        self._tickets = count(1)
        self._senders: dict[int, _Sender] = {}
        self._spent: dict[Line, float] = {"first": 0.0, "long": 0.0}
        self._there: dict[Line, set[int]] = {"first": set(), "long": set()}  # senders with jobs in each line
        self._now = 0.0

    # -- what happens ------------------------------------------------------------------------------------------------

    def enter(self, name: str, sender: int, many: bool) -> None:
        """A job is to be solved, on one slot at first."""
        self._jobs[name] = _Job(name, sender, 1, many, next(self._tickets))
        self._senders.setdefault(sender, _Sender()).jobs += 1

    def wish(self, name: str, slots: int, at: int) -> None:
        """So many slots it could use now; so many points it is at."""
        if name in self._jobs:
            self._jobs[name].wish = min(slots, at) if self._jobs[name].leave else slots

    def ended(self, name: str) -> None:
        """Its processes have ended, and it is still to be solved."""
        job = self._jobs.get(name)
        if job is not None:
            job.begun, job.leave, job.told, job.wish = None, "", (0, ""), 1
            self._take(job, *job.since)
            job.ticket = next(self._tickets)

    def leave(self, name: str) -> None:
        """It is not to be solved any more."""
        job = self._jobs.pop(name, None)
        if job is not None:
            self._take(job, *job.since)
            self._senders[job.sender].jobs -= 1
            if not self._senders[job.sender].jobs:
                del self._senders[job.sender]

    # -- what follows ------------------------------------------------------------------------------------------------

    def decide(self, now: float) -> list[Order]:
        """What is to be done now."""
        self._settle(now)
        for job in self._jobs.values():
            self._take(job, *job.since[job.wish :])
        self._end_turns(now)
        while self._free() > 0 and (taker := self._next()) is not None:
            self._give(taker, now)
        self._make_way(now)
        self._make_room(now)
        orders = []
        for job in self._jobs.values():
            if job.told != (len(job.since), job.leave):
                job.told = (len(job.since), job.leave)
                orders.append(Order(job.name, *job.told))
        return orders

    def due(self) -> float | None:
        """After so long [s] `decide` has to be asked again, whatever else happens; None: not before something does."""
        if any(job.wish > len(job.since) and job.leave != "now" for job in self._jobs.values()):
            return TICK_S
        left = [(FIRST_S - job.used) / len(job.since) for job in self._jobs.values() if job.since and job.fresh]
        return max(min(left), TICK_S / 10) if left else None

    def _settle(self, now: float) -> None:
        """Count the time that has passed. Who was not there saves nothing up: neither a line, nor a sender in it."""
        passed, self._now = now - self._now, now
        there: dict[Line, set[int]] = {"first": set(), "long": set()}
        for job in self._jobs.values():
            if job.wish:
                there[job.line].add(job.sender)
            if job.since:
                self._spent[job.line] += passed * len(job.since)
                self._senders[job.sender].used[job.line] += passed * len(job.since)
                job.used += passed * len(job.since)
        for line, senders in there.items():
            if not senders:
                self._spent[line] = max(self._spent.values())
            least = min((self._senders[sender].used[line] for sender in senders & self._there[line]), default=0.0)
            for sender in senders - self._there[line]:
                self._senders[sender].used[line] = max(self._senders[sender].used[line], least)
        self._there = there

    def _end_turns(self, now: float) -> None:
        """Slots whose turn is over go to whoever is next. After its first turn a job that would have no place among the
        long ones gives way to any of them."""
        for job in [job for job in self._jobs.values() if job.since and job.line == "long"]:
            job.leave = "now" if job.fresh and self._full(1) and not job.leave else job.leave
            for since in list(job.since):
                if job.fresh or now - since >= TURN_S:
                    self._take(job, since)
                    job.ticket = next(self._tickets)
                    self._give(self._next() or job, now)
            if job.since and job.leave == "now":
                job.leave = ""  # nobody was there to give way to
            job.fresh = False

    def _make_way(self, now: float) -> None:
        """First turns begin in place of long ones, as long as they are not ahead."""
        while self._may_be_first() and (taker := self._best("first")) is not None:
            running = [job for job in self._jobs.values() if job.since and job.line == "long"]
            if not running:
                return
            job = max(running, key=lambda one: (self._senders[one.sender].share("long"), now - min(one.since)))
            self._take(job, min(job.since))  # it goes on before the others of its line
            self._give(taker, now)

    def _make_room(self, now: float) -> None:
        """Where somebody waits for a place, and every place is taken, the sweep that has had its place for longest
        leaves."""
        waits = any(job.line == "long" and job.begun is None and job.wish for job in self._jobs.values())
        if not waits or not self._full() or any(job.leave for job in self._jobs.values()):
            return
        ready = [
            job for job in self._jobs.values()
            if job.many and job.line == "long" and job.begun is not None and now - job.begun >= PLACE_S
        ]  # fmt: skip
        if ready:
            min(ready, key=lambda job: job.begun or 0.0).leave = "soon"

    # -- who is next -------------------------------------------------------------------------------------------------

    def _next(self) -> _Job | None:
        """Who gets the next slot."""
        first, long = self._best("first"), self._best("long")
        if first is None or long is None:
            return first or long
        return first if self._may_be_first() else long

    def _may_be_first(self) -> bool:
        return self._spent["first"] <= self._spent["long"] + AHEAD_S

    def _best(self, line: Line) -> _Job | None:
        """Who is next in a line: of the sender with the least share, the one who came there first."""
        full = line == "long" and self._full()
        waiting = [
            job for job in self._jobs.values()
            if job.line == line and job.wish > len(job.since) and job.leave != "now"
            and (job.begun is not None or not full)
        ]  # fmt: skip
        if not waiting:
            return None

        return min(waiting, key=lambda job: (self._senders[job.sender].share(line), len(job.since), job.ticket))

    def _full(self, apart: int = 0) -> bool:
        """Whether no more long ones can be held; apart from so many of those that are."""
        held = sum(job.begun is not None and job.line == "long" for job in self._jobs.values()) - apart
        return held >= self._slots and (held >= self._places or not self._room())

    # -- slots -------------------------------------------------------------------------------------------------------

    def _free(self) -> int:
        return self._slots - sum(sender.slots for sender in self._senders.values())

    def _give(self, job: _Job, now: float) -> None:
        job.since.append(now)
        if job.begun is None:
            job.begun = now
        self._senders[job.sender].slots += 1

    def _take(self, job: _Job, *since: float) -> None:
        """The slots that it was given then; what it has done stays done."""
        for one in since:
            job.since.remove(one)
        self._senders[job.sender].slots -= len(since)
