"""The judge's rule `arm` as a whole: arms from the frame, those that begin on others, and the eyes of all."""

from __future__ import annotations

from collections.abc import Iterator

from solver.check.arm import arm_checks
from solver.check.eye import eye_checks
from solver.check.room import Check, Room
from solver.check.tee import on_arms


def held_checks(room: Room) -> Iterator[Check]:
    """What holds the parts of a placed train; nothing for a design without arms."""
    yield from arm_checks(room, on_arms(room))
    yield from eye_checks(room)
