"""One number for every part, in the parts list, the build order and the pictures alike.

What is drilled has its number already (`views.spots`): L3 the arbor of link 3, L3w and L3p its third gears on the
wheel's and the pinion's side, r3.1 a roller, M the motor, Mt its third gear. The others follow from these: r3 is ring
3, whose rollers r3.1 and so on are; a and b are the teeth of wheel and pinion, so L3a is the wheel and L3b the pinion
on arbor L3, and Mb the pinion on the motor's shaft Ms. P is the post of what it carries, H the hub of a gear, S the rod
on which a body stands on a ring, B the body. Jigs have numbers by teeth and capital letters: R30, G18.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import groupby

from solver.design.links import KIND_BY_NAME
from solver.sheets.gears.gears import drive_name, ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.steps.holding import holding_numbers
from solver.sheets.supports.made import SupportsMade

TOLD = (
    "Every part has one number, in the parts list, in the steps and in the pictures. r3: ring 3; r3.1: its first "
    "roller. L3: the arbor of link 3; L3a: its wheel; L3b: its pinion; L3w and L3p: its third gears on the wheel's and "
    "the pinion's side. P before a number: the post that carries it; H: its hub. S3: the rod on ring 3; B3: its body."
)
OF_MOTOR = " M: the motor; Ms: its shaft; Mb: its pinion; Mt: its third gear."

_LAST = re.compile(r"^(?P<head>.*?)(?P<last>\d+)(?P<tail>[a-z]?)$")


def numbers_of(stock: Inventory, supports: SupportsMade | None = None) -> dict[str, str]:
    """The number of every part by its name in the build order: the use of a gear, "arbor of link 3", "post of ...",
    "hub of ...", "roller 1 of ring 3", "rod of ...", "body ...", "motor" or "hand crank", "motor's shaft"; and all of
    frame and arms."""
    design, train = stock.design, stock.train
    found: dict[str, str] = {}
    for ring in range(len(train.rings)):
        found[ring_name(design, train, ring)] = f"r{ring}"
    for index, link in enumerate(train.links):
        found |= {f"arbor of link {index}": f"L{index}"}
        found |= {f"wheel of link {index}": f"L{index}a", f"pinion of link {index}": f"L{index}b"}
        at_wheel = KIND_BY_NAME[link.kind].wheel_thirds
        for side in range(len(link.thirds)):
            what, letter = ("wheel", "w") if side < at_wheel else ("pinion", "p")
            found[f"third gear of link {index} ({what} side)"] = f"L{index}{letter}"
    found |= {
        roller: f"r{one.ring}.{one.number}" for one in stock.rollers for roller in [_roller(one.ring, one.number)]
    }
    if stock.motor_shaft_mm is not None:
        found |= {drive_name(design): "M", "motor's shaft": "Ms", "motor pinion": "Mb"}
        if any(made.gear.use == "third gear of the motor" for made in stock.gears):
            found["third gear of the motor"] = "Mt"
    found |= {f"post of {post.carries}": f"P{found[post.carries]}" for post in stock.posts}
    found |= {f"hub of {hub.use}": f"H{found[hub.use]}" for hub in stock.hubs}
    found |= {f"rod of {stand.body}": f"S{stand.ring}" for stand in stock.stands}
    found |= {f"body {design.bodies[body].name}": f"B{ring}" for body, ring in enumerate(train.seats)}
    return found | holding_numbers(supports)


def _roller(ring: int, number: int) -> str:
    return f"roller {number} of ring {ring}"


def told(numbers: Iterable[str]) -> str:
    """Numbers, those of a kind together; three and more that follow each other as the first and the last: "r3.1 to
    r3.4, L3"."""
    kinds: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for number in dict.fromkeys(numbers):
        match = _LAST.match(number)
        kind, last = ((match["head"], match["tail"]), int(match["last"])) if match else ((number, ""), 0)
        kinds.setdefault(kind, []).append((last, number))
    return ", ".join(text for some in kinds.values() for text in _runs(sorted(some)))


def _runs(some: list[tuple[int, str]]) -> Iterator[str]:
    for _, run in groupby(enumerate(some), lambda one: one[1][0] - one[0]):
        numbers = [number for _, (_, number) in run]
        if len(numbers) > 2:
            yield f"{numbers[0]} to {numbers[-1]}"
        else:
            yield from numbers
