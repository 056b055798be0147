"""Random small designs, the same for the same seed: TOML text with any mixture of what a design may ask for.

Solutions of all of them differ by the order of their links too; `random_classes.py` makes those that do not.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from functools import cache

from solver import Design, parse_design

SENSES = ("same", "either", "reverse")


KEYS = ("error", "parts", "jigs", "teeth", "largest", "envelope")


def random_design(seed: int, wild: bool = False) -> str:
    """A design small enough for exhaustive enumeration.

    wild: rank keys in any order, often a front, and rings that may be one of several structures.
    """
    rng = random.Random(f"wild {seed}" if wild else seed)
    reverted = rng.random() < 0.85
    bodies = rng.choice((2, 3, 3, 4)) if reverted else 2
    blanks = rng.choice((0, 0, 1, 2)) if reverted and bodies < 4 else 0
    rings = bodies + blanks
    thirds = rng.choice((0, 0, 1, 2)) if rings <= 3 else rng.choice((0, 0, 0, 1))
    reference = rng.choice(("first", "first", "best"))
    best_range = reference == "best"
    lines = ["[bodies]", f'reference = "{reference}"', f'sense = "{rng.choice(("same", "either", "either"))}"']
    period = 1.0
    for index in range(bodies):
        lines += ["[[bodies.list]]", f'name = "body {index}"']
        if rng.random() < 0.25 and (index or best_range):
            lines.append(f"period_range = [{period:.3f}, {period * rng.uniform(1.01, 1.3):.3f}]")
            period *= 1.3
        else:
            lines.append(f"period = {period:.4f}")
        if rng.random() < 0.2:
            lines.append(f'sense = "{rng.choice(SENSES[: 3 if index else 2])}"')
        if rng.random() < 0.25:
            lines.append(f"max_error_pct = {rng.choice((0, 3, 8, 20, 40))}")
        period *= rng.uniform(1.3, 2.4)
    lines.append("[rings]")
    if rng.random() < 0.3 or not reverted:
        teeth = rng.randint(12, 30)
        for_rings = []
        for _ in range(rings):
            for_rings.append(sorted(rng.sample(range(teeth, teeth + 9), rng.choice((1, 2, 3)))))
            teeth += rng.randint(1, 9)
        lines.append(f"teeth = {for_rings}")
    else:
        step = rng.randint(1, 9)
        inner: object = rng.randint(10, 36)
        steps: object = step
        some: object = blanks
        if wild:
            inner = sorted(rng.sample(range(10, 37), rng.choice((1, 2))))
            steps = sorted({step, rng.randint(1, 9)})
            some = rng.choice((blanks, list(range(blanks + 1))))
        lines += [f"inner_teeth = {inner}", f"tooth_step = {steps}", f"blanks = {some}"]
    lines.append(f"{rng.choice(('tooth_pitch', 'module'))} = {rng.choice((3, 6.5, 12))}")
    lines += [
        f"addendum = {rng.choice((0, 0.5, 3))}",
        f'[fit]\nclearance = {rng.choice((0, 1.5, 1.5, 900))}\ndirections = "none"',
        "[arbors]",
    ]
    low = rng.randint(4, 9)
    span = rng.randint(4, 9) if thirds == 0 else rng.randint(2, 5)
    lines += [
        f"wheel_teeth = {{min = {low}, max = {low + span}}}",
        f"pinion_teeth = {{min = {max(3, low - rng.randint(0, 5))}, max = {low + span - rng.randint(0, 2)}}}",
        f"third_gears = {thirds}",
        f"third_teeth = {{min = 4, max = {rng.randint(5, 9)}}}",
        f"reverted = {'true' if reverted else 'false'}",
    ]
    if rng.random() < 0.2:
        lines.append(f"stock = {sorted(set(range(4, 19)) - {rng.randint(4, 18) for _ in range(3)})}")
    lines += [
        "[search]",
        'distinct = "order"',
        f"keep = {rng.choice((1, 3, 10, 25))}",
        f"max_error_pct = {rng.choice((5, 20, 50, 80))}",
    ]
    rank = ["error", *rng.sample(("parts", "jigs", "teeth", "largest", "envelope"), rng.randint(0, 3))]
    if wild:
        rank = rng.sample(KEYS[: 6 if reverted else 5], rng.randint(1, 4))
        front = rng.sample(KEYS[: 6 if reverted else 5], rng.choice((0, 2, 2, 3)))
        lines.append(f"front = {front}".replace("'", '"'))
    lines.append(f"rank = {rank}".replace("'", '"'))
    for key, values in (("jigs", (4, 6, 8)), ("teeth", (90, 140)), ("parts", (9, 13, 17)), ("largest", (9, 12))):
        if rng.random() < 0.12:
            lines.append(f"max_{key} = {rng.choice(values)}")
    if reverted and rng.random() < 0.12:
        lines.append(f"max_envelope = {rng.choice((60, 90, 130))}")
    return "\n".join(lines) + "\n"


def random_placed_design(seed: int) -> str:
    """A design whose fit matters, small enough for exhaustive enumeration over teeth and places."""
    rng = random.Random(f"placed {seed}")
    bodies = rng.choice((2, 3, 3, 4))
    blanks = rng.choice((0, 0, 1)) if bodies < 4 else 0
    rings = bodies + blanks
    thirds = rng.choice((0, 1, 1, 2)) if rings <= 3 else rng.choice((0, 0, 1))
    lines = ["[bodies]", f'sense = "{rng.choice(("same", "either", "either"))}"']
    period = 1.0
    for index in range(bodies):
        lines += ["[[bodies.list]]", f'name = "body {index}"', f"period = {period:.4f}"]
        period *= rng.uniform(1.2, 2.2)
    step, inner = rng.randint(2, 9), rng.randint(12, 30)
    pitch, unit = rng.choice((("tooth_pitch", 6.5), ("tooth_pitch", 12), ("module", 3)))
    tooth = unit / 2 if pitch == "module" else unit / 6.283
    low = rng.randint(4, 8)
    span = rng.randint(3, 6) if thirds == 0 else rng.randint(2, 4)
    lines += ["[rings]", f"inner_teeth = {inner}", f"tooth_step = {step}", f"blanks = {blanks}"]
    add, rim = rng.choice((0, 1, 3)), rng.choice((0, 2, 5))
    lines += [f"{pitch} = {unit}", f"addendum = {add}", f"rim = {rim}", "level_spacing = 10"]
    lines += [
        "[arbors]",
        f"wheel_teeth = {{min = {low}, max = {low + step + span}}}",
        f"pinion_teeth = {{min = {max(3, low - 2)}, max = {low + span}}}",
        f"third_gears = {thirds}",
        f"third_teeth = {{min = 4, max = {rng.randint(5, 8)}}}",
    ]
    outer = (inner + (rings - 1) * step + 2 * (low + step)) * tooth + add
    lines += [
        "[fit]",
        'arrange = "first"',
        f"clearance = {rng.choice((0, 0.5, 1.5))}",
        f"post_radius = {rng.choice((0.5, 0.5, 2))}",
    ]
    if rng.random() < 0.75:
        size = round(2 * outer * rng.uniform(0.85, 1.2), 1)
        shape = rng.choice(
            (
                f'shape = "square", side = {size}',
                f'shape = "rectangle", width = {size}, height = {round(size * rng.uniform(0.9, 1.4), 1)}',
                f'shape = "round", diameter = {round(size * 1.1, 1)}',
            )
        )
        depth = rng.choice(("", "", f", depth = {10 * rings - rng.choice((0, 0, 1))}"))
        lines.append(f"frame = {{{shape}{depth}}}")
    few = rng.choice((1, 2, 3, 4, 5, 6)) if rings > 2 else rng.choice((1, 1, 2, 3))
    equal = rng.random() < 0.5
    lines.append(f"directions = {few if equal else sorted(rng.sample(range(360), few))}")
    lines.append(f'plate = "{rng.choice(("none", "none", "none", "inner", "inner", "outer"))}"')
    lines.append(f'stands = "{rng.choice(("none",) * 6 + ("outer",) * 3)}"')
    lines += [
        "[search]",
        'distinct = "order"',
        f"keep = {rng.choice((1, 3, 8))}",
        "max_error_pct = 80",
        "time_limit_s = 1000",
    ]
    rank = rng.choice((["error"], ["error", "parts"], ["error", "envelope"], ["jigs", "error"], ["envelope", "error"]))
    lines.append(f"rank = {rank}".replace("'", '"'))
    if rng.random() < 0.5:
        if rng.random() < 0.4:
            lines.append(f"max_envelope = {round(outer * rng.uniform(0.9, 1.3), 1)}")
        lines += _random_drive(rng, bodies, low, thirds)
    return "\n".join(lines) + "\n"


def _random_drive(rng: random.Random, bodies: int, low: int, thirds: int) -> list[str]:
    """A drive; where links may have third gears, often one that needs its own to turn a reversed ring."""
    back = thirds > 0 and rng.random() < 0.6
    lines = ["[drive]", f"motor_rpm = {'[2]' if back else rng.choice(('[2]', '[2, 5]'))}"]
    lines.append(f"pinion_teeth = {sorted(rng.sample(range(max(3, low - 2), low + 8), rng.choice((1, 2, 3))))}")
    lines.append(f'ring = "{rng.choice(("inner", "outer", "outer") if back else ("any", "inner", "outer"))}"')
    if back or rng.random() < 0.3:
        lines.append("third_gears = 1")
    if back or rng.random() < 0.3:
        lines.append("reverse_ok = false")
    if rng.random() < 0.7:
        lines.append(f'turn = {{body = "body {rng.randrange(bodies)}", seconds = {rng.choice((15, 40, 90))}}}')
    return lines


BACKWARDS = """
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period = {period}, sense = "reverse"}}]
[rings]
inner_teeth = {inner}
tooth_step = {step}
tooth_pitch = 6.5
addendum = {addendum}
rim = 2
[arbors]
wheel_teeth = {{min = 5, max = 9}}
pinion_teeth = {{min = 4, max = 8}}
third_gears = 1
third_teeth = {{min = 4, max = 7}}
[fit]
arrange = "first"
clearance = {clearance}
directions = {directions}
plate = "{plate}"
[search]
distinct = "order"
max_error_pct = 80
keep = 4
rank = {rank}
{cap}
[drive]
motor_rpm = [2, 3]
pinion_teeth = [{pinion}, {more}]
ring = "outer"
third_gears = 1
reverse_ok = false
turn = {{body = "b", seconds = {seconds}}}
"""


@cache
def driven_backwards() -> list[str]:
    """The outer ring turns back, and the motor may not: each drive needs a third gear, which reaches out farthest."""
    rng, found = random.Random(4), []
    for _ in range(24):
        pinion = rng.randint(4, 6)
        text = BACKWARDS.format(
            period=round(rng.uniform(1.3, 2.5), 3),
            inner=rng.randint(14, 24),
            step=rng.randint(3, 6),
            addendum=rng.choice((0, 1)),
            clearance=rng.choice((0.5, 1.5)),
            directions=rng.choice((3, 5, "[10, 40, 200]")),
            plate=rng.choice(("none", "none", "inner", "outer")),
            rank=rng.choice(('["error"]', '["envelope", "error"]', '["error", "envelope"]', '["jigs", "envelope"]')),
            cap=rng.choice(("", "max_envelope = 48", "max_envelope = 55", 'front = ["error", "envelope"]')),
            pinion=pinion,
            more=pinion + rng.randint(1, 3),
            seconds=rng.choice((20, 45)),
        )
        found.append(text)
    return found


TIES = """
[bodies]
list = [{{name = "a", period = 1}}, {{name = "b", period_range = [1.5, 3.5]}}]
[rings]
inner_teeth = {inner}
tooth_step = {step}
tooth_pitch = 6.5
addendum = 1
rim = 2
[arbors]
wheel_teeth = {{min = 5, max = 12}}
pinion_teeth = {{min = 4, max = 9}}
[fit]
arrange = "first"
clearance = 0.5
directions = {directions}
[search]
distinct = "order"
keep = {keep}
rank = {rank}
{cap}
[drive]
motor_rpm = [2, 3]
pinion_teeth = {{min = 5, max = 20}}
turn = {{body = "b", seconds = {seconds}}}
"""


@cache
def tied_drives() -> list[str]:
    """Many trains of the same figures, each with a drive of its own."""
    rng = random.Random(1)
    return [
        TIES.format(
            inner=rng.randint(14, 24),
            step=rng.randint(3, 5),
            directions=rng.choice((3, 5, 8)),
            keep=rng.choice((1, 2, 3)),
            rank=rng.choice(('["error"]', '["error", "largest"]', '["parts"]')),
            cap=rng.choice(("", "max_envelope = 45", "max_envelope = 55")),
            seconds=rng.choice((20, 45, 60)),
        )
        for _ in range(20)
    ]


@cache
def turning() -> list[Design]:
    """Two bodies of any sense and nothing in the way; none has a place with bodies that stand out beyond ring 0."""
    rng, found = random.Random(8), []
    for _ in range(8):
        text = BACKWARDS.split("[drive]")[0].format(
            period=round(rng.uniform(1.3, 2.5), 3), inner=rng.randint(14, 24), step=rng.randint(3, 6), addendum=0,
            clearance=0, directions=4, plate="none", rank='["error"]', cap="",
        )  # fmt: skip
        design = parse_design(text.replace('"reverse"', rng.choice(('"same"', '"either"', '"reverse"'))))
        found.append(replace(design, fit=replace(design.fit, post_radius=Fraction(1, 1000))))
    return found


def audited(text: str) -> Design:
    """A design as audits have it: they judge what a design may not ask for, bodies that stand out beyond ring 0."""
    if 'stands = "inner"' not in text:
        return parse_design(text)
    return standing_inside(parse_design(text.replace('stands = "inner"', 'stands = "outer"')))


def standing_inside(design: Design) -> Design:
    """The same design with bodies that stand out beyond ring 0."""
    return replace(design, fit=replace(design.fit, stands="inner"))
