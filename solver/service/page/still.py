"""What stands still in a model that turns: the frame, the plate, arms, posts and rollers [mm]."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

from solver.answer.document import SolutionAnswer, train_of
from solver.design.design import Design
from solver.sheets.supports.made import supports_made

Point = tuple[float, float]


class Part(BaseModel):
    """A part of the motion document."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class ArmMotion(Part):
    """An arm from the front [mm]: its middle line. held: what it holds; gap: 3 lies between levels 3 and 4."""

    held: str
    gap: int
    points: list[Point]


class FrameMotion(Part):
    """The frame and what holds in it [mm]: half of its inside to the right and upwards, how thick bars and arms are."""

    round: bool
    half_width: float
    half_height: float
    bar: float
    arm: float
    arms: list[ArmMotion]


class RollerMotion(Part):
    """A roller inside of a ring [mm]: its middle from the main axis, and its radius."""

    ring: int
    x: float
    y: float
    radius: float


class EdgeMotion(Part):
    """The inside of a frame of which no bars and arms are made [mm]: half of it to the right and upwards. plate:
    whether a plate is in it, on which all stands."""

    round: bool
    half_width: float
    half_height: float
    plate: bool


def held_in(design: Design, solution: SolutionAnswer) -> FrameMotion | None:
    """Frame and arms of a design that has them."""
    made = supports_made(design, train_of(design, solution)) if design.armed else None
    if made is None or design.supports is None:
        return None
    frame = made.frame
    arms = [ArmMotion(held=arm.held.name, gap=arm.held.gap, points=list(arm.points)) for arm in made.arms]
    thick = float(design.supports.arm_mm)
    return FrameMotion(
        round=frame.round, half_width=frame.wide_mm, half_height=frame.high_mm, bar=frame.bar_mm, arm=thick, arms=arms
    )


def edge_of(design: Design) -> EdgeMotion | None:
    """The frame of a design that says no more of it than its size."""
    frame = design.fit.frame
    if frame is None or design.armed:
        return None
    half = float(frame.width) / 2, float(frame.height) / 2
    plate = design.fit.plate != "none"
    return EdgeMotion(round=frame.round, half_width=half[0], half_height=half[1], plate=plate)


def rollers_of(design: Design, solution: SolutionAnswer) -> list[RollerMotion]:
    """The rollers of every ring, where they have places."""
    if design.fit.rollers is None:
        return []
    radius = float(design.fit.rollers.radius)
    return [
        RollerMotion(ring=index, x=roller.x_mm, y=roller.y_mm, radius=radius)
        for index, ring in enumerate(solution.rings)
        for roller in ring.rollers
        if roller.x_mm is not None and roller.y_mm is not None
    ]
