"""Random small designs with blank rings, so that the links between two bodies can stand in more than one order."""

from __future__ import annotations

import random

KEYS = ("error", "parts", "jigs", "teeth", "largest", "envelope")


def random_class_design(seed: int) -> str:
    """Small enough to enumerate all trains: rank keys in any order, often a front, third gears, several structures."""
    rng = random.Random(f"classes {seed}")
    reverted = rng.random() < 0.8
    bodies = rng.choice((2, 2, 3))
    blanks = rng.choice((1, 2, 2)) if bodies == 2 else 1
    if reverted and bodies == 2 and rng.random() < 0.3:
        blanks = 3
    thirds = rng.choice((0, 0, 1)) if blanks < 3 else 0
    reference = rng.choice(("first", "first", "best"))
    lines = ["[bodies]", f'reference = "{reference}"', f'sense = "{rng.choice(("same", "either", "either"))}"']
    period = 1.0
    for index in range(bodies):
        lines += ["[[bodies.list]]", f'name = "body {index}"']
        if rng.random() < 0.2 and (index or reference == "best"):
            lines.append(f"period_range = [{period:.3f}, {period * rng.uniform(1.01, 1.3):.3f}]")
        else:
            lines.append(f"period = {period:.4f}")
        if rng.random() < 0.1:
            lines.append(f"max_error_pct = {rng.choice((8, 20, 40))}")
        period *= rng.uniform(1.3, 2.4) ** (1 + blanks * (bodies == 2))
    lines.append("[rings]")
    rings = bodies + blanks
    if rng.random() < 0.35 or not reverted:
        step, teeth, choices = rng.randint(2, 6), rng.randint(12, 24), []
        for index in range(rings):
            many = rng.choice((1, 2)) if rings < 4 else rng.choice((1, 1, 2))
            choices.append(sorted({teeth, teeth + rng.choice((1, 2, step))}) if many > 1 and index else [teeth])
            teeth += rng.choice((step, step, step, step + 1))
        lines.append(f"teeth = {choices}")
    else:
        inner = sorted(rng.sample(range(10, 30), rng.choice((1, 2))))
        steps = sorted({rng.randint(1, 7), rng.randint(1, 7)})
        some = rng.choice((blanks, list(range(blanks + 1))))
        lines += [f"inner_teeth = {inner}", f"tooth_step = {steps}", f"blanks = {some}"]
    lines.append(f"{rng.choice(('tooth_pitch', 'module'))} = {rng.choice((3, 6.5, 12))}")
    low = rng.randint(4, 8)
    span = rng.randint(4, 10) if not thirds and reverted else rng.randint(2, 4)
    if not reverted:
        span = 2 if rings > 3 else 3
    lines += [
        f"addendum = {rng.choice((0, 0.5, 3))}",
        f'[fit]\nclearance = {rng.choice((0, 1.5))}\ndirections = "none"',
        "[arbors]",
        f"wheel_teeth = {{min = {low}, max = {low + span}}}",
        f"pinion_teeth = {{min = {max(3, low - rng.randint(1, 5))}, max = {low + span - rng.randint(0, 2)}}}",
        f"third_gears = {thirds}",
        f"third_teeth = {{min = 4, max = {rng.randint(5, 9)}}}",
        f"reverted = {'true' if reverted else 'false'}",
        "[search]",
        f"keep = {rng.choice((1, 3, 10, 25))}",
        f"max_error_pct = {rng.choice((20, 50, 100))}",
    ]
    keys = KEYS[: 6 if reverted else 5]
    rank = rng.sample(keys, rng.randint(1, 4)) if rng.random() < 0.7 else ["error"]
    if rng.random() < 0.5:
        lines.append(f"front = {rng.sample(keys, rng.choice((2, 2, 3)))}".replace("'", '"'))
    lines.append(f"rank = {rank}".replace("'", '"'))
    for key, values in (("jigs", (5, 7, 9)), ("teeth", (100, 140)), ("largest", (9, 12))):
        if rng.random() < 0.1:
            lines.append(f"max_{key} = {rng.choice(values)}")
    if reverted and rng.random() < 0.15:
        lines.append(f"max_envelope = {rng.choice((60, 90, 130))}")
    return "\n".join(lines) + "\n"


def random_placed_class_design(seed: int) -> str:
    """Small enough to enumerate all trains and all their places."""
    rng = random.Random(f"placed classes {seed}")
    bodies, blanks = rng.choice(((2, 1), (2, 1), (2, 2), (3, 1)))
    rings, period = bodies + blanks, 1.0
    lines = ["[bodies]", f'sense = "{rng.choice(("same", "either"))}"']
    for index in range(bodies):
        lines += ["[[bodies.list]]", f'name = "body {index}"', f"period = {period:.4f}"]
        period *= rng.uniform(1.3, 2.0) ** (1 + blanks * (bodies == 2))
    step, inner, low = rng.randint(2, 6), rng.randint(12, 24), rng.randint(4, 7)
    span = rng.randint(3, 6) if rings == 3 else rng.randint(3, 4)
    thirds = rng.choice((0, 0, 1)) if rings == 3 else 0
    if thirds:
        span = rng.randint(2, 3)
    pitch, add = rng.choice((6.5, 12)), rng.choice((0, 1, 3))
    lines += ["[rings]", f"inner_teeth = {inner}", f"tooth_step = {step}", f"blanks = {blanks}"]
    lines += [f"tooth_pitch = {pitch}", f"addendum = {add}", f"rim = {rng.choice((0, 2, 5))}", "level_spacing = 10"]
    lines += [
        "[arbors]",
        f"wheel_teeth = {{min = {low}, max = {low + step + span}}}",
        f"pinion_teeth = {{min = {max(3, low - 2)}, max = {low + span}}}",
        f"third_gears = {thirds}",
        f"third_teeth = {{min = 4, max = {rng.randint(5, 7)}}}",
        "[fit]",
        f"clearance = {rng.choice((0, 0.5, 1.5))}",
        f"post_radius = {rng.choice((0.5, 0.5, 2))}",
    ]
    outer = (inner + (rings - 1) * step + 2 * (low + step)) * pitch / 6.283 + add
    if rng.random() < 0.75:
        size = round(2 * outer * rng.uniform(0.85, 1.15), 1)
        shape = rng.choice((f'shape = "square", side = {size}', f'shape = "round", diameter = {round(size * 1.1, 1)}'))
        lines.append(f"frame = {{{shape}}}")
    lines.append(f"directions = {rng.choice((1, 2, 2, 3, 4))}")
    lines.append(f'plate = "{rng.choice(("none", "inner", "inner", "outer"))}"')
    lines.append(f'stands = "{rng.choice(("none", "none", "outer"))}"')
    lines += ["[search]", f"keep = {rng.choice((1, 3, 8))}", "max_error_pct = 100", "time_limit_s = 1000"]
    rank = rng.choice((["error"], ["error", "parts"], ["error", "envelope"], ["jigs", "error"], ["envelope", "error"]))
    lines.append(f"rank = {rank}".replace("'", '"'))
    if rng.random() < 0.3:
        lines.append(f"max_envelope = {round(outer * rng.uniform(0.9, 1.2), 1)}")
    if rng.random() < 0.35:
        lines += [
            "[drive]",
            "motor_rpm = [2]",
            f"pinion_teeth = {sorted(rng.sample(range(max(3, low - 2), low + 8), 2))}",
        ]
        lines.append(f'ring = "{rng.choice(("any", "inner", "outer"))}"')
        if rng.random() < 0.5:
            lines.append(f'turn = {{body = "body {rng.randrange(bodies)}", seconds = {rng.choice((15, 40, 90))}}}')
    return "\n".join(lines) + "\n"
