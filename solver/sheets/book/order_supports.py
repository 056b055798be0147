"""Frame and arms in the build order: made before the first level, and put up gap by gap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.sheets.book.steps import BuildStep, Operation
from solver.sheets.steps.holding import arm_name, bar_names, bush_name
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.made import SupportsMade


def bars_of(made: SupportsMade) -> tuple[str, ...]:
    """The names of all parts of the frame."""
    return tuple(name for bar in made.frame.bars for name in bar_names(bar))


def arms_and_bushes(arms: tuple[BuiltArm, ...]) -> tuple[str, ...]:
    """The names of arms, each followed by its bush where it has one."""
    return tuple(name for arm in arms for name in (arm_name(arm), *((bush_name(arm),) if arm.bush is not None else ())))


def frame_and_arms(made: SupportsMade) -> BuildStep:
    """Everything that holds, by the chapter on supports."""
    what = "rings" if made.frame.round else "rectangles"
    told = f"Solder the frame: {what}, members along the axis, bars of gaps; see that it is square and lies flat."
    work = [Operation(told, makes=bars_of(made))]
    for gap in made.gaps:
        arms = made.in_gap(gap)
        told = f"Arms of gap {gap}, with their eyes: {', '.join(arm.held.name for arm in arms)}."
        bushes = [arm.held.name for arm in arms if arm.bush is not None]
        if bushes:
            told += f" {'A bush' if len(bushes) == 1 else 'Bushes'} for {' and '.join(bushes)}."
        work.append(Operation(told, makes=arms_and_bushes(arms)))
    return BuildStep("Frame and arms, by the chapter on supports", tuple(work))


def frame_stands(made: SupportsMade) -> BuildStep:
    """The frame is there before the first level; it lies on its back while the model grows in it."""
    assert made.design.supports is not None
    told = "Lay the frame on its back."
    if not made.design.hung:
        told = "Stand the frame on its feet."
    return BuildStep("The frame", (Operation(told, mounts=bars_of(made)),))


def arms_up(made: SupportsMade, level: int, ring: str, gears: Sequence[str]) -> Iterator[Operation]:
    """The arms that are put up at a level: before level 0 those behind it; at each those of the gap in front of it,
    which its ring and small gears could not pass."""
    if level == 0 and made.in_gap(-1):
        yield _up(made.in_gap(-1), -1)
    arms = made.in_gap(level)
    if arms:
        told, over = f"Lay {ring} loose into its level", "it"
        if gears:
            stand = "it will stand" if len(gears) == 1 else "they will stand"
            told, over = f"{told}, and {', '.join(gears)} where {stand}", "them"
        yield Operation(f"{told}: the arms of gap {level} cross {over}.", uses=(ring, *gears))
        yield _up(arms, level)


def _up(arms: tuple[BuiltArm, ...], gap: int) -> Operation:
    order = ", ".join(arm.held.name for arm in arms)
    told = f"Solder the arms of gap {gap} to their bars, in this order: {order}."
    met = [f"{arm.held.name} to the arm of {arm.ends_at}" for arm in arms if arm.on_arm]
    told = told[:-1] + f"; {', '.join(met)}." if met else told
    return Operation(told, mounts=arms_and_bushes(arms))
