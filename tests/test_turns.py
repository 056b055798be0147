"""Turns: who is solved when. Jobs of known length on a clock of our own; what is promised is measured."""

from __future__ import annotations

import random
from dataclasses import dataclass, field

import pytest

from solver.service.processes.turns import AHEAD_S, FIRST_S, PLACE_S, TURN_S, Turns

STEP_S = 0.05


@dataclass
class Task:
    """A job of so many points, each of so many slot-seconds."""

    name: str
    sender: int
    points: list[float]
    comes: float
    first: float | None = None  # when it had a slot for the first time
    over: float | None = None
    begun: int = 0  # how often its processes were begun
    lost: float = 0.0  # work that was given up [slot-seconds]
    slots: int = 0
    alive: bool = False
    leaving: str = ""
    left: list[float] = field(default_factory=list)  # what is left of each point
    at: int = 0  # points that were begun

    def __post_init__(self) -> None:
        self.left = list(self.points)

    @property
    def unfinished(self) -> int:
        return sum(one > 0 for one in self.left)

    def work(self, seconds: float) -> None:
        open_points = [index for index, one in enumerate(self.left) if one > 0]
        if self.leaving == "soon":
            open_points = [index for index in open_points if self.left[index] < self.points[index]]
        for index in open_points[: self.slots]:
            self.left[index] = self.left[index] - seconds if self.left[index] - seconds > 1e-9 else 0.0

    def end(self) -> None:
        """Its processes end; what is in the middle of a point is lost."""
        for index, one in enumerate(self.left):
            if 0 < one < self.points[index]:
                self.lost += self.points[index] - one
                self.left[index] = self.points[index]
        self.alive, self.slots, self.leaving = False, 0, ""


class Machine:
    """The machine that `Turns` gives orders to."""

    def __init__(self, tasks: list[Task], slots: int, places: int, room=lambda: True) -> None:
        self.tasks = {task.name: task for task in tasks}
        self.turns, self.slots, self.places = Turns(slots, places, room), slots, places
        self.now = 0.0
        self.spent = {"first": 0.0, "long": 0.0}
        self.held = 0
        self._coming = sorted(tasks, key=lambda task: task.comes)

    def step(self) -> None:
        while self._coming and self._coming[0].comes <= self.now:
            task = self._coming.pop(0)
            self.turns.enter(task.name, task.sender, len(task.points) > 1)
        open_tasks = [task for task in self.tasks.values() if task.over is None and task.comes <= self.now]
        for task in open_tasks:
            if task.alive:
                at = sum(0 < one < whole for one, whole in zip(task.left, task.points))
                self.turns.wish(task.name, task.unfinished, at)
        for order in self.turns.decide(self.now):
            self._obey(order)
        running = [task for task in open_tasks if task.slots]
        given = sum(task.slots for task in running)
        assert given <= self.slots
        if any(not task.slots and not task.leaving and task.first is None for task in open_tasks):
            assert given == self.slots, "a slot is free while a new one waits"
        for task in running:
            task.work(STEP_S)
        self.now += STEP_S
        for task in open_tasks:
            if task.alive and not task.unfinished:
                task.over, task.slots, task.alive = self.now, 0, False
                self.turns.leave(task.name)
            elif task.leaving == "soon" and not any(0 < one < whole for one, whole in zip(task.left, task.points)):
                task.end()
                self.turns.ended(task.name)
        self.held = max(self.held, sum(task.alive for task in self.tasks.values()))

    def _obey(self, order) -> None:
        task = self.tasks[order.job]
        if order.leave == "now":
            task.end()
            self.turns.ended(task.name)
            return
        task.leaving = order.leave
        if order.slots and not task.alive:
            task.alive, task.begun = True, task.begun + 1
        task.slots = order.slots
        if task.slots and task.first is None:
            task.first = self.now

    def run(self, until: float | None = None) -> Machine:
        while self.now < until if until is not None else any(task.over is None for task in self.tasks.values()):
            self.step()
            assert self.now < 1e5, "somebody starves"
        return self


def small(name: str, sender: int = 1, comes: float = 0.0, work: float = 0.1) -> Task:
    return Task(name, sender, [work], comes)


def test_a_small_one_beside_heavy_ones_begins_at_once():
    """Two heavy ones, which have been at it for long: the small one takes one's slot, and the heavy one goes on."""
    heavy = [Task(f"heavy {n}", 1, [300.0], 0) for n in range(2)]
    late = small("small", comes=100)
    machine = Machine([*heavy, late], slots=2, places=8).run(until=120)
    assert late.first - late.comes <= STEP_S and late.over - late.comes <= 0.1 + 3 * STEP_S
    done = sum(300 - task.left[0] for task in heavy)
    assert done == pytest.approx(2 * 120 - 0.1, abs=0.5), "nothing of the heavy ones is lost"
    assert machine.run().tasks["heavy 0"].begun == 1


def test_short_ones_are_not_behind_long_ones_that_came_before():
    tasks = [Task(f"long {n}", 1, [60.0], 0) for n in range(10)] + [small(f"short {n}", work=1.0) for n in range(10)]
    Machine(tasks, slots=2, places=20).run()
    last = max(task.over for task in tasks if task.name.startswith("short"))
    first = min(task.over for task in tasks if task.name.startswith("long"))
    assert last < first
    assert last <= 2 * (10 * FIRST_S + 10 * 1.0) / 2 + AHEAD_S + TURN_S


def test_many_small_ones_of_one_sender_do_not_hold_up_another():
    crowd = [small(f"crowd {n}", sender=1, work=0.5) for n in range(1000)]
    other = small("other", sender=2, comes=1.0)
    Machine([*crowd, other], slots=2, places=8).run(until=20)
    assert other.over - other.comes <= 0.5 + 0.1 + 3 * STEP_S  # until one of the crowd is over


@pytest.mark.parametrize(("senders", "slots"), [(3, 1), (12, 2), (12, 4)])
def test_a_new_sender_waits_for_one_turn_of_each_other_one_and_no_longer(senders, slots):
    """Each of them sends more and more, and long ones wait too."""
    crowd = [small(f"{sender} {n}", sender, work=1.9) for sender in range(senders) for n in range(15)]
    long = [Task(f"long {n}", 90 + n, [500.0], 0) for n in range(slots)]
    late = [small(f"late {n}", 100 + n, comes=20 + n / 3) for n in range(3)]
    Machine([*crowd, *long, *late], slots=slots, places=8).run(until=55)
    for one in late:
        assert one.over is not None and one.first - one.comes <= 2 * (senders + 3) / slots * FIRST_S + AHEAD_S + 1


def test_long_ones_have_half_of_all_slots_however_many_first_turns_wait():
    crowd = [small(f"crowd {n}", sender=n % 7, work=0.5) for n in range(200)]
    long = [Task(f"long {n}", 99, [100.0], 0) for n in range(2)]
    Machine([*crowd, *long], slots=2, places=8).run(until=60)
    assert sum(100 - task.left[0] for task in long) >= 60 * 2 / 2 - AHEAD_S - 2 * FIRST_S - TURN_S
    assert sum(task.over is not None for task in crowd) >= (60 * 2 / 2 - TURN_S) / 0.55


def test_long_ones_take_turns_and_senders_too():
    """One sender with ten long ones, two with one each: in the long run every sender has a third."""
    tasks = [Task(f"one {n}", 1, [500.0], 0) for n in range(10)]
    tasks += [Task("two", 2, [500.0], 0), Task("three", 3, [500.0], 0)]
    Machine(tasks, slots=2, places=20).run(until=300)
    done = {sender: sum(500 - task.left[0] for task in tasks if task.sender == sender) for sender in (1, 2, 3)}
    assert sum(done.values()) == pytest.approx(600, abs=1)
    assert min(done.values()) >= 600 / 3 - 3 * TURN_S - 10 * FIRST_S
    each = [500 - task.left[0] for task in tasks if task.sender == 1]
    assert max(each) - min(each) <= 2 * TURN_S


def test_a_sweep_has_every_slot_that_nobody_else_wants():
    sweep, late = Task("sweep", 1, [1.0] * 60, 0), small("small", sender=1, comes=10)
    machine = Machine([sweep, late], slots=4, places=8).run()
    assert machine.tasks["sweep"].over <= 60 / 4 + 1
    assert late.over - late.comes <= 0.1 + 3 * STEP_S


def test_what_has_no_place_in_memory_gives_up_its_first_turn_and_no_more():
    tasks = [Task(f"heavy {n}", n % 3, [40.0], 0) for n in range(12)]
    machine = Machine(tasks, slots=2, places=4).run()
    assert machine.held <= 4 + 2
    assert all(task.lost <= FIRST_S + 2 * STEP_S and task.begun <= 2 for task in tasks)
    assert sum(task.lost > 0 for task in tasks) == 12 - 4


def test_without_memory_no_more_are_held_than_there_are_slots():
    tasks = [Task(f"heavy {n}", 1, [20.0], 0) for n in range(8)]
    machine = Machine(tasks, slots=2, places=100, room=lambda: False).run()
    assert machine.held <= 2 + 2
    assert all(task.lost <= FIRST_S + 2 * STEP_S for task in tasks)


def test_sweeps_leave_their_places_to_others_between_two_points():
    """As many endless sweeps as there are places; a design of some seconds has its turn all the same."""
    sweeps = [Task(f"sweep {n}", 1, [1.0] * 200, 0) for n in range(4)]
    late = Task("design", 1, [10.0], 30.0)
    machine = Machine([*sweeps, late], slots=2, places=4).run(until=300)
    assert late.over is not None and late.over - late.comes <= PLACE_S + 40 + 10 * 5
    assert all(task.lost == 0 for task in sweeps)
    assert machine.held <= 4 + 2


@pytest.mark.parametrize("case", range(12))
def test_whatever_comes_nobody_starves_and_little_is_lost(case):
    seed = random.randrange(10**6) if case else 1
    print("seed", seed)
    rng = random.Random(seed)
    slots, places = rng.randint(1, 4), rng.randint(1, 6)
    lengths = [0.05, 0.3, 1.5, 3.0, 20.0]
    tasks = [
        Task(str(n), rng.randint(1, 4), rng.choices(lengths, k=rng.choice([1, 1, 1, 8])), rng.uniform(0, 60))
        for n in range(rng.randint(2, 30))
    ]  # fmt: skip
    machine = Machine(tasks, slots, places, room=lambda: rng.random() < 0.8).run()
    for task in tasks:
        waited = task.first - task.comes
        others = {other.sender for other in tasks if other.sender != task.sender}
        mine = sum(other.sender == task.sender and other.comes <= task.comes for other in tasks)
        assert waited <= 2 * (len(others) + 1) * mine * FIRST_S + AHEAD_S + TURN_S + 1, task
        assert task.lost <= (FIRST_S + STEP_S * 2) * (1 if len(task.points) == 1 else slots), task
    assert machine.held <= max(places, slots) + slots
    total = sum(sum(task.points) + task.lost for task in tasks)
    assert machine.now >= total / slots - STEP_S * len(tasks) * 8 - 60


def test_it_says_when_it_has_to_be_asked_again():
    turns = Turns(1, 4)
    assert turns.due() is None
    turns.enter("one", 1, False)
    assert [order.slots for order in turns.decide(0.0)] == [1]
    assert turns.due() == pytest.approx(FIRST_S)
    turns.decide(FIRST_S)
    assert turns.due() is None  # nobody waits: it may go on
    turns.enter("two", 1, False)
    assert {order.job: order.slots for order in turns.decide(3.0)} == {"one": 0, "two": 1}
    assert 0 < turns.due() <= 1
    turns.leave("two")
    assert {order.job: order.slots for order in turns.decide(3.1)} == {"one": 1}
    turns.leave("one")
    assert turns.decide(4.0) == [] and turns.due() is None


def test_a_thousand_open_jobs_are_decided_on_in_little_work():
    """No more than a few looks at each: counted, not timed."""
    turns = Turns(2, 8)
    for number in range(1000):
        turns.enter(str(number), number % 5, False)
    looks = 0
    real = type(turns._jobs["0"]).line

    class Counted(type(turns._jobs["0"])):
        @property
        def line(self):
            nonlocal looks
            looks += 1
            return real.fget(self)

    for job in turns._jobs.values():
        job.__class__ = Counted
    turns.decide(0.0)
    for step in range(1, 11):
        turns.leave(str(step))
        turns.decide(step / 10)
    assert looks <= 11 * 1000 * 15
