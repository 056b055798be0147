"""The pictures of the build order: which step shows what, by the names of what it makes, uses and mounts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from solver.sheets.book.document import Block, Figure, Heading, Paragraph
from solver.sheets.book.order import PLATE, TRY
from solver.sheets.book.steps import BuildStep
from solver.sheets.gears.inventory import Inventory
from solver.sheets.steps.board import board, gears, plate
from solver.sheets.steps.exploded import exploded
from solver.sheets.steps.holding import told_of
from solver.sheets.steps.numbers import OF_MOTOR, TOLD, told
from solver.sheets.steps.picture import StepShown, picture
from solver.sheets.steps.things import PlacedParts
from solver.sheets.supports.made import SupportsMade
from solver.words.lengths import Lengths

WIDE = 184.0  # of a picture [mm]: what a page of the narrowest paper has room for

HOW = (
    "Pictures: from the front, and beside it from the side, with the plate or the first level on the left. Black: what "
    "the step puts on, with its numbers; grey: what is there already. They are to scale across; "
    "in the side view levels may be drawn farther apart than they are. Rods and bodies turn with their rings and are "
    "drawn at the top."
)

BARS = " Bars of the frame that lie behind each other have their numbers in the view from the front alone."


def numbering(stock: Inventory, supports: SupportsMade | None = None) -> Iterator[Block]:
    """What the numbers of parts mean, and how pictures show them."""
    motor = "" if stock.motor_shaft_mm is None else OF_MOTOR
    yield Paragraph(TOLD + motor + told_of(supports))
    yield Paragraph(HOW + ("" if supports is None else BARS))


def numbered(step: BuildStep, numbers: Mapping[str, str]) -> tuple[str, ...]:
    """What a step has to do, in words, each with the numbers of the parts that it makes, puts on or tries."""
    found = []
    for one in step.work:
        names = (*one.makes, *one.mounts) or (() if step.makes or step.mounts else one.uses)
        named = told(numbers[name] for name in names if name in numbers)
        found.append(f"{one.text} [{named}]" if named else one.text)
    return tuple(found)


def step_pictures(
    steps: Sequence[BuildStep], stock: Inventory, lengths: Lengths, supports: SupportsMade | None = None
) -> dict[BuildStep, Figure]:
    """The pictures of those steps that have one: gears with their hubs, boards, the plate, and all assembly."""
    things, found = PlacedParts(stock, supports), dict[BuildStep, Figure]()
    mounted: list[str] = []  # on the model, or on a part of it
    behind = "" if stock.design.fit.plate == "none" else "there"
    for step in steps:
        drawing = None
        if PLATE in step.makes:
            drawing = plate(things, step.title, WIDE)
        elif step.mounts and any(one.kind in ("ring", "gear") for one in things.some(step.makes)):
            drawing = gears(things, step.makes, step.title, WIDE)
        elif any(name in things.by_name for name in step.mounts):
            drawing = picture(things, _shown(step, things, mounted, behind), step.title, WIDE)
        elif step.title.startswith(TRY) and any(name in things.by_name for name in step.uses):
            drawing = board(things, step.uses, step.title, WIDE, lengths)
        mounted += step.mounts
        if drawing is not None:
            scale = f"Scale {drawing.name.removeprefix(f'{step.title}, ')}"
            others = [name for name in step.mounts if name not in things.by_name]
            found[step] = Figure(
                drawing, "; not shown: ".join([scale, *([", ".join(others)] if others else [])]), False
            )
    return found


def _shown(step: BuildStep, things: PlacedParts, mounted: Sequence[str], plate: str) -> StepShown:
    """Parts of parts, as hubs are, come to the model with what they are on; until then they are not there. A step that
    puts parts on parts that still lie on the bench, as rods on rings, shows these in grey, and nothing else."""
    added, before = things.some(step.mounts), things.some(mounted)
    names = {one.name for one in added}
    bench = {one.on for one in added if one.on} - names - set(mounted)
    if bench:
        return StepShown(tuple(things.some(bench)), tuple(added))
    on_model = {one.name for one in before if not one.on}
    there = [one for one in before if not one.on or one.on in on_model]
    return StepShown(tuple(there), tuple(added), carried=tuple(one for one in before if one.on in names), plate=plate)


def exploded_views(stock: Inventory, supports: SupportsMade | None = None) -> Iterator[Block]:
    """The model pulled apart."""
    yield Heading("Exploded view")
    yield from (Figure(drawing, drawing.name, False) for drawing in exploded(PlacedParts(stock, supports), WIDE))
