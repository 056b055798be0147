"""The build order: what to make first, what to try on the way, and the turn counts and senses that must come out.

Ring i turns T[i+1]/T[i] times as often as ring i+1, which is (wheel / Z[i]) * (Z[i+1] / pinion), an exact fraction: in
lowest terms p/q, ring i turns p times while ring i+1 turns q times.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

from solver.design.design import Design
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train
from solver.sheets.gears import Made, ring_name
from solver.sheets.inventory import Inventory
from solver.sheets.lengths import Lengths

MOST_TURNS = 12  # that a maker counts by hand in one go
MOST_SLOW = 60  # turns of a fast ring for one of a slow one, the most that is asked for
NEAR_DEG = 45.0  # from its mark: where a ring that is not quite round is taken to be plain to see


@dataclass(frozen=True)
class TurnCheck:
    """Two rings turned by hand: `turns` of the one are exactly `while_turns` of the other, in lowest terms; same: both
    the same way round. near: where that is too much to count, (turns, turns of the other, by how many degrees the other
    is then past that, negative: short of it)."""

    one: str
    other: str
    turns: int
    while_turns: int
    same: bool
    near: tuple[int, int, float] | None = None

    def text(self) -> str:
        """ "ring 3 turns 5 times while ring 4 turns 3 times, the same way"."""
        way = "the same way" if self.same else "the other way"
        exact = f"{self.one} turns {_times(self.turns)} while {self.other} turns {_times(self.while_turns)}, {way}"
        if self.near is None:
            return exact
        turns, others, off = self.near
        there = f"{abs(off):.1f}° {'past' if off > 0 else 'short of'} its mark"
        made = f"after {_turns(turns)} of {self.one}, {self.other} is {there} of {_turns(others)}"
        return f"{exact}; easier to count: {made}"


@dataclass(frozen=True)
class Step:
    """A step of the work: its heading, what to do, and the turn counts that must come out before going on."""

    title: str
    lines: tuple[str, ...]
    checks: tuple[TurnCheck, ...] = ()


def turn_check(names: tuple[str, str], ratio: Fraction, same: bool) -> TurnCheck:
    """The check of two rings of which the first turns `ratio` times as often as the other."""
    turns, others = ratio.numerator, ratio.denominator
    near = None
    if turns > MOST_TURNS or others > MOST_TURNS:
        near = _near(ratio)
    return TurnCheck(*names, turns, others, same, near)


def _near(ratio: Fraction) -> tuple[int, int, float]:
    """Turns of the first for one turn of a far slower one; else the fewest after which the other is near its mark, or
    if none are, those after which it is nearest."""
    if ratio > MOST_TURNS:
        return round(ratio), 1, float((round(ratio) / ratio - 1) * 360)
    options = []
    for turns in range(1, MOST_TURNS + 1):
        whole = max(round(turns / ratio), 1)
        options.append((turns, whole, float((turns / ratio - whole) * 360)))
    near = [option for option in options if abs(option[2]) <= NEAR_DEG]
    return near[0] if near else min(options, key=lambda option: abs(option[2]))


def reversals(train: Train) -> tuple[bool, ...]:
    """Whether each ring turns against ring 0 (counting meshes; common practice, no source)."""
    found = [False]
    for link in train.links:
        found.append(found[-1] ^ KIND_BY_NAME[link.kind].reverses)
    return tuple(found)


def link_checks(design: Design, train: Train) -> tuple[TurnCheck, ...]:
    """For each link, the turns of its two rings."""
    ratios, reverse = ring_ratios(train), reversals(train)
    names = [ring_name(design, train, ring) for ring in range(len(train.rings))]
    return tuple(
        turn_check((names[i], names[i + 1]), ratios[i + 1] / ratios[i], reverse[i] == reverse[i + 1])
        for i in range(len(train.links))
    )


def senses(stock: Inventory) -> tuple[tuple[str, str], ...]:
    """Which way each gear turns, seen from the front, when ring 0 turns counterclockwise: every mesh reverses."""
    reverse = reversals(stock.train)
    found = []
    for made in stock.gears:
        turned = reverse[made.gear.level] ^ (made.meshes % 2 == 1)
        found.append((made.gear.use, "clockwise" if turned else "counterclockwise"))
    return tuple(found)


def build_order(stock: Inventory, lengths: Lengths) -> tuple[Step, ...]:
    """Every step of the work, in order."""
    return tuple(_steps(stock, lengths))


def _steps(stock: Inventory, lengths: Lengths) -> Iterator[Step]:
    design, train = stock.design, stock.train
    names = [ring_name(design, train, ring) for ring in range(len(train.rings))]
    checks = link_checks(design, train)
    jig_of = {use: jig.name for jig in stock.jigs for use in jig.uses}
    yield _first(stock)
    for link in range(len(train.links)):
        yield _make(stock, link, names, jig_of)
        lines = list(_board(stock, link, names, lengths))
        yield Step(f"Try link {link} on a board", tuple(lines), (checks[link],))
    yield from _levels(stock, names, checks, lengths)
    drive = train.placement.drive if train.placement is not None else None
    if drive is not None:
        turning = dict(senses(stock))
        yield Step("Make the gears of the motor", _made(stock, -1, jig_of))
        lines = [
            "Turn the whole train once by hand at the motor pinion's place before the motor is on.",
            f"Fix the motor of {float(drive.rpm):g} rev/min so that its pinion works with {names[drive.ring]}; its "
            f"shaft turns {turning['motor pinion']} seen from the front while ring 0 turns counterclockwise.",
            "Run it on a low-voltage supply for an hour and feel every bearing for warmth.",
        ]
        yield Step("Drive", tuple(lines))


def _first(stock: Inventory) -> Step:
    what = "templates" if stock.form.plate else "jigs"
    lines = [
        "Print the templates at 100 % and measure the bar of 100 mm on every sheet before you trust it.",
        f"Make the {what} of the two smallest rings and of the gears between them first: "
        "what is wrong in the wire, the solder or the print shows there at the least cost.",
        _on_hub(stock),
        "Prick a mark on every ring and gear at one tooth: turns are counted by it.",
    ]
    return Step("Before the first gear", tuple(lines))


def _on_hub(stock: Inventory) -> str:
    """How small gears get their hubs, as joints and set screws are counted."""
    what = "gear to its hub" if stock.form.plate else "spokes of a small gear to its hub"
    told = f"Solder the {what}, which the parts list has"
    if stock.design.wire.set_screws:
        return f"{told}; set screws hold wheel and pinion on their arbor."
    return f"{told}."


def _make(stock: Inventory, link: int, names: list[str], jig_of: dict[str, str]) -> Step:
    """The gears that link `link` is tried with and that are not made yet."""
    rings = range(link if link == 0 else link + 1, link + 2)
    lines = (*(_on_jig(stock.gears[ring], jig_of) for ring in rings), *_made(stock, link, jig_of))
    return Step(f"Make the gears of link {link}, {names[link]} to {names[link + 1]}", lines)


def _made(stock: Inventory, link: int, jig_of: dict[str, str]) -> tuple[str, ...]:
    return tuple(_on_jig(made, jig_of) for made in stock.gears if made.link == link)


def _on_jig(made: Made, jig_of: dict[str, str]) -> str:
    return f"{made.gear.use}: {made.gear.teeth} {made.toothing}, on {jig_of[made.gear.use]}"


def _board(stock: Inventory, link: int, names: list[str], lengths: Lengths) -> Iterator[str]:
    """How two rings and their link are set up on a board; lengths from the main axis."""
    train, sizes = stock.train, stock.sizes
    assert train.placement is not None
    at, spacing = train.placement.links[link], lengths.text(sizes.level_spacing_mm)
    for ring in (link, link + 1):
        inside = lengths.text(sizes.radius_mm(train.rings[ring]) - sizes.rim_mm)
        yield f"{names[ring]}: let it turn inside three pegs or rollers that touch it at radius {inside}."
    yield f"Set {names[link + 1]} on spacers {spacing} above {names[link]}, both about one centre."
    radius = lengths.text(((at.arbor[0] / 1000) ** 2 + (at.arbor[1] / 1000) ** 2) ** 0.5)
    yield f"Arbor of link {link}: {radius} from the centre."
    made = [one for one in stock.gears if one.link == link and one.part == "third gear"]
    for gear, spot in zip(made, at.thirds, strict=True):
        far = lengths.text(((spot[0] / 1000) ** 2 + (spot[1] / 1000) ** 2) ** 0.5)
        apart = ((spot[0] - at.arbor[0]) ** 2 + (spot[1] - at.arbor[1]) ** 2) ** 0.5 / 1000
        yield f"{gear.gear.use}: {far} from the centre and {lengths.text(apart)} from the arbor."
    yield "Turn it one whole turn of the outer ring: no tight place, no skipped tooth; else mark the tooth and bend it."


def _levels(stock: Inventory, names: list[str], checks: tuple[TurnCheck, ...], lengths: Lengths) -> Iterator[Step]:
    """Assembly from the plate outwards, or from the smallest ring; after each level the link to the one before."""
    count, plate = len(names), stock.design.fit.plate
    order = list(range(count)) if plate != "outer" else list(range(count - 1, -1, -1))
    ratios, reverse = ring_ratios(stock.train), reversals(stock.train)
    screws = {one.level: one for one in stock.screws}
    for number, level in enumerate(order):
        posts = [post for post in stock.posts if (post.bottom if plate != "outer" else post.top) == level]
        lines = [f"Put up: {', '.join(post.carries for post in posts)}."] if posts else []
        gears = [made.gear.use for made in stock.gears if made.gear.level == level]
        lines.append(f"Put on: {', '.join(gears)}.")
        here = screws[level]
        told = f"{here.posts} of posts, {here.rollers} of rollers, {here.sets} set screws"
        lines.append(f"Screws of this level: {told}. Oil the bearings, check that nothing rubs.")
        done: list[TurnCheck] = []
        if number:
            done.append(checks[min(level, order[number - 1])])
        low, high = sorted((order[0], level))
        if number > 1 and ratios[high] / ratios[low] <= MOST_SLOW:
            same = reverse[low] == reverse[high]
            done.append(turn_check((names[low], names[high]), ratios[high] / ratios[low], same))
        yield Step(f"Level {level}: {names[level]}", tuple(lines), tuple(done))


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _turns(count: int) -> str:
    return f"{count} turn{'' if count == 1 else 's'}"
