"""The chapter on what holds the parts: the frame and the arms of each gap; and their rows of the parts list."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from solver.design.train import Train
from solver.sheets.book.bill_row import BillRow
from solver.sheets.book.document import Block, Figure, Heading, Items, Paragraph, TextTable
from solver.sheets.steps.holding import bar_numbers
from solver.sheets.steps.numbers import told
from solver.sheets.supports.arms import BuiltArm
from solver.sheets.supports.frame import EYE, FrameBar
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.gap import gap_view
from solver.sheets.views.spots import origin_of
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

NOT_DESIGNED = (
    "Supports are not designed: without a plate each post is held from the frame in its own gap, and how is left to "
    "you. A table [supports] in the design file, beside [wire] and fit.frame, designs frame and arms."
)


def supports_rows(made: SupportsMade, lengths: Lengths) -> Iterator[BillRow]:
    """Frame, arms and bushes in the parts list; arms that are cut alike in one row."""
    supports = made.design.supports
    assert supports is not None
    for bar in made.frame.bars:
        rod = supports.arm_mm if bar.thin else supports.bar_mm
        size = f"⌀ {lengths.text(float(rod))}, {supports.metal}, {lengths.text(bar.length_mm)}"
        yield BillRow("frame", bar.what, size, bar.count, bar.grams, _sides(bar), told(bar_numbers(bar)))
    rod_told = f"⌀ {lengths.text(float(supports.arm_mm))}, {supports.metal}"
    for alike in _alike(made.arms):
        size = f"{rod_told}, cut {lengths.text(alike[0].wire_mm)}"
        names = [arm.held.name for arm in alike]
        numbers = told(f"A{name}" for name in names)
        yield BillRow("arms", "arm", size, len(alike), alike[0].grams, ", ".join(names), numbers)
    bushes = [(arm.bush, arm.held.name) for arm in made.arms if arm.bush is not None]
    for bush, some in groupby(sorted(bushes, key=lambda one: -one[0].bore_mm), key=lambda one: one[0]):
        names = [name for _, name in some]
        size = f"⌀ {lengths.text(bush.outside_mm)}, bore {lengths.text(bush.bore_mm)}"
        size += f", long {lengths.text(bush.length_mm)}"
        yield BillRow(
            "arms",
            "bush in an arm's eye",
            size,
            len(names),
            bush.grams,
            ", ".join(names),
            told(f"U{name}" for name in names),
        )


def _alike(arms: Sequence[BuiltArm]) -> Iterator[list[BuiltArm]]:
    """Arms gathered by what is cut for them, to a thousandth of a mm, longest first."""
    ordered = sorted(arms, key=lambda arm: -round(arm.wire_mm, 3))
    for _, some in groupby(ordered, key=lambda arm: round(arm.wire_mm, 3)):
        yield list(some)


def _sides(bar: FrameBar) -> str:
    return " and ".join(bar.sides)


def supports(made: SupportsMade, train: Train, scale: float, lengths: Lengths) -> Iterator[Block]:
    """How frame and arms are made, the frame as a table, and each gap as a drawing at 1 : scale and a table."""
    table = made.design.supports
    assert table is not None
    yield Heading("Supports")
    count, arms, bars = len(made.arms), *wire_lengths(made)
    stands = "hangs on a wall by the eyes at its back" if made.design.hung else "stands on the feet at its back"
    yield Paragraph(
        f"The model {stands}, on the side of level 0. {count} arms of {table.metal}, ⌀ "
        f"{lengths.text(float(table.arm_mm))}, hold what turns, each in its gap: gap 3 lies between levels 3 and 4. "
        f"They take {lengths.text(arms)}, the bars of the frame, ⌀ {lengths.text(float(table.bar_mm))}, "
        f"{lengths.text(bars)}. Frame, arms and bushes weigh {made.grams:.0f} g. None of the arms "
        f"bends farther than {lengths.text(float(table.sag(made.design.rings.addendum)))} under the heaviest that one "
        f"of its kind may hold{', also where one ends on another' if any(arm.on_arm for arm in made.arms) else ''}."
    )
    yield Items(tuple(_how(made, lengths)))
    if made.unheld:
        yield Paragraph(f"No arm is found for {', '.join(made.unheld)}: how they are held is left to you.")
    if made.bent:
        yield Paragraph(
            f"Arms that end on others bend these too: joined as they are, those of {', '.join(made.bent)} bend farther "
            "than that. Let them run on to the frame, and solder them where they cross."
        )
    yield _frame_table(made, lengths)
    for gap in made.gaps:
        yield Heading(f"Arms in gap {gap}")  # on a page of its own, with its drawing
        yield Paragraph(
            f"{_between(made, gap)}; scale 1 : {decimal(scale, 3)}. In grey: what stands on {_on(made, gap)}."
        )
        yield Figure(gap_view(made, train, gap, scale, lengths))
        yield _arm_table(made, gap, lengths)


def wire_lengths(made: SupportsMade) -> tuple[float, float]:
    """All that is cut for arms, with the eyes that the frame hangs by, and all bars [mm]."""
    thin = sum(bar.count * bar.length_mm for bar in made.frame.bars if bar.thin)
    thick = sum(bar.count * bar.length_mm for bar in made.frame.bars if not bar.thin)
    return thin + sum(arm.wire_mm for arm in made.arms), thick


def _between(made: SupportsMade, gap: int) -> str:
    if gap < 0:
        return "Behind level 0"
    if gap == made.levels - 1:
        return f"In front of level {gap}"
    return f"Between levels {gap} and {gap + 1}"


def _on(made: SupportsMade, gap: int) -> str:
    levels = [level for level in (gap, gap + 1) if 0 <= level < made.levels]
    return f"level {levels[0]}" if len(levels) == 1 else f"levels {levels[0]} and {levels[1]}"


def _how(made: SupportsMade, lengths: Lengths) -> Iterator[str]:
    """How it is put together."""
    if made.frame.round:
        yield (
            "Bend every ring about a former as wide as the frame is inside and solder it; solder the six members to "
            "the outside of all rings. An arm lies across the ring of its gap, in front of it, and is soldered there; "
            "those of the last gap lie behind the front ring."
        )
    else:
        yield (
            "Solder both rectangles, the members between them in the corners, and the bars of gaps between the "
            "members. An arm lies across the bar of its gap, in front of it, and is soldered there; those of the last "
            "gap lie behind the front rectangle. One that ends in a corner is filed to the member."
        )
    yield from _held_by(made, lengths)
    yield (
        "The arms of a gap are built in the order of its table, the shortest way to the frame first: one that meets an "
        "arm which is there already ends at it, is filed to its side and soldered; where they lie closer than 30 "
        f"degrees, side by side.{_begun(made)}"
    )
    motor = "" if made.design.drive is None else " and the motor's shaft"
    yield (
        "Each arm ends in an eye, bent of its own wire and closed with solder. Inside it is so long that what it "
        "holds has its slot, in the direction from the main axis. Stubs of third gears and rollers are soldered into "
        f"their eyes when the mesh runs; so are bushes, in which the sleeves of arbors{motor} turn. The post of an "
        "arbor is soldered into its sleeve."
    )
    yield (
        "Long is the middle line, from the middle of what an arm holds to the inside of the frame, or to the middle of "
        f"the arm that it meets. Cut is what is sawn off for it: with its eye, and {lengths.text(made.frame.bar_mm)} "
        "across a bar; bends are taken as sharp."
    )


def _held_by(made: SupportsMade, lengths: Lengths) -> Iterator[str]:
    """Where the eyes that it hangs by are, or the feet."""
    for bar in made.frame.bars:
        if bar.thin:
            apart = lengths.text(abs(bar.spots[1][0] - bar.spots[0][0]))
            where = "ring" if made.frame.round else "rectangle's top bar"
            yield (
                f"Bend the {bar.count} eyes to hang by about a rod of {lengths.text(EYE)}, and solder them upright to "
                f"the back {where}, {apart} apart, the main axis midway below them."
            )
        elif bar.what == "foot":
            where = "every second member" if made.frame.round else "each corner"
            yield f"Solder a foot to the back of {where}, along the axis, {lengths.text(bar.length_mm)} long."


def _begun(made: SupportsMade) -> str:
    assert made.design.supports is not None
    if not made.design.supports.on_arms:
        return ""
    return (
        " Some begin on another on purpose, square on its side or straight at its eye, where that takes less wire "
        "(supports.from)."
    )


def _frame_table(made: SupportsMade, lengths: Lengths) -> TextTable:
    rows = []
    for bar in made.frame.bars:
        depth = "" if bar.gap is None else lengths.text(made.frame.bar_depths[bar.gap])
        each = lengths.text(bar.length_mm)
        where = () if made.frame.round else (_sides(bar),)
        rows.append((bar.what, *where, depth, each, str(bar.count), f"{bar.count * bar.grams:.1f}"))
    count = sum(bar.count for bar in made.frame.bars)
    grams = sum(bar.count * bar.grams for bar in made.frame.bars)
    where = () if made.frame.round else ("where",)
    heads = ("bar", *where, "depth of its middle", "long", "count", "together [g]")
    total = ("all", *[""] * (len(heads) - 3), str(count), f"{grams:.1f}")
    caption = "The frame; depths as in the side view"
    return TextTable(heads, tuple(rows), "l" * (len(heads) - 4) + "rrrr", caption, (total,))


def _arm_table(made: SupportsMade, gap: int, lengths: Lengths) -> TextTable:
    origin = origin_of(made.design).at
    units = lengths.units

    def at(point: tuple[float, float]) -> tuple[str, ...]:
        return tuple(lengths.bare(point[axis] - origin[axis], unit, 2) for unit in units for axis in (0, 1))

    rows = []
    for arm in made.in_gap(gap):
        bend = "; ".join(", ".join(at(one)[:2]) for one in arm.bends)
        ends = f"arm of {arm.ends_at}" if arm.on_arm else arm.ends_at
        eye = " × ".join(lengths.bare(mm, lengths.unit, 2) for mm in (arm.eye.inside_mm, arm.eye.inside_long_mm))
        line, cut = (lengths.bare(mm, lengths.unit, 2) for mm in (arm.line_mm, arm.wire_mm))
        held = arm.held.what if arm.held.what != "roller" else f"roller of ring {arm.held.name[1:].split('.')[0]}"
        rows.append((arm.held.name, held, *at(arm.points[0]), bend, ends, *at(arm.end)[:2], line, cut, eye))
    unit = lengths.unit
    heads = (
        "arm",
        "holds",
        *(f"{axis} [{one}]" for one in units for axis in ("x", "y")),
        f"bend at [{unit}]",
        "ends at",
    )
    heads += (f"x there [{unit}]", f"y there [{unit}]", f"long [{unit}]", f"cut [{unit}]", f"eye inside [{unit}]")
    total = ("all", *[""] * (len(heads) - 4), lengths.bare(sum(a.line_mm for a in made.in_gap(gap)), unit, 2))
    total += (lengths.bare(sum(a.wire_mm for a in made.in_gap(gap)), unit, 2), "")
    align = "ll" + "rr" * len(units) + "ll" + "rrrrr"
    return TextTable(tuple(heads), tuple(rows), align, "", (total,))
