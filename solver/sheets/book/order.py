"""The build order: what to make first, what to try on the way, and what is put on the model when.

Every step says what it makes, what it uses and what it mounts, as names. A step uses only what an earlier one has made,
and mounts nothing before what carries it. Names of gears are their uses ("wheel of link 0"); "arbor of link 0" is the
sleeve, "post of ..." what goes through it, "rod of Titan" what a body stands on, "body Titan" the body.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.design.kinematics import ring_ratios
from solver.design.train import DrivePlace
from solver.sheets.book.on_plate import behind, beside_pins, drilled_for, over_rollers, put_up
from solver.sheets.book.order_supports import arms_up, frame_and_arms, frame_stands
from solver.sheets.book.steps import BuildStep, Operation
from solver.sheets.book.turns import TurnCheck, link_checks, reversals, senses, turn_check
from solver.sheets.draw.marks import bar_told
from solver.sheets.gears.gears import GearInTrain, drive_name, ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.templates import merged
from solver.words.lengths import Lengths

MOST_SLOW = 60  # turns of a fast ring for one of a slow one, the most that is asked for
TRY = "Try link"
PLATE, SHAFT = "drilled plate", "motor's shaft"


def build_order(stock: Inventory, lengths: Lengths, supports: SupportsMade | None = None) -> tuple[BuildStep, ...]:
    """Every step of the work, in order; supports: frame and arms, where they are designed."""
    return tuple(_Order(stock, lengths, supports).steps())


class _Order:
    """Works out the steps for one model."""

    def __init__(self, stock: Inventory, lengths: Lengths, supports: SupportsMade | None) -> None:
        self.stock, self.lengths, self.supports = stock, lengths, supports
        self.design, self.train, self.fit = stock.design, stock.train, stock.design.fit
        self.names = [ring_name(self.design, self.train, ring) for ring in range(len(self.train.rings))]
        self.checks = link_checks(self.design, self.train)
        self.jig_of = {use: self._jig(jig.name) for jig in stock.jigs for use in jig.uses}
        self.bodies = {ring: self.design.bodies[body].name for body, ring in enumerate(self.train.seats)}
        assert self.train.placement is not None
        self.placement = self.train.placement

    def steps(self) -> Iterator[BuildStep]:
        yield self._first()
        yield self._parts()
        made: set[str] = set()
        for link in range(len(self.train.links)):
            gears = [*(self.stock.gears[ring] for ring in range(link + (link > 0), link + 2)), *self._of_link(link)]
            heading = f"link {link}, {self.names[link]} to {self.names[link + 1]}"
            yield from self._make(heading, gears, made)
            yield BuildStep(f"{TRY} {link} on a board", tuple(self._board(link)), (self.checks[link],))
        drive = self.placement.drive
        if drive is not None:
            yield from self._make("the motor", self._of_link(-1), made)
        if self.stock.stands:
            yield BuildStep("Rods of the bodies", (self._rods(),))
        if self.fit.plate != "none":
            told = "Drill the plate by the sheets of drilling.pdf or the drilling table; begin each slot at its cross."
            more = map(Operation, drilled_for(self.stock, self.lengths))
            yield BuildStep("Drill the plate", (Operation(told, makes=(PLATE,)), *more))
        if self.supports is not None:
            yield frame_and_arms(self.supports)
            yield frame_stands(self.supports)
        yield from self._levels()
        if drive is not None:
            yield self._drive(drive)
        if self.stock.stands:
            yield BuildStep("Bodies", (self._put_bodies(),))
        placed = tuple(map(Operation, put_up(self.stock)))
        if placed:
            yield BuildStep("Put the plate up", placed)

    # -- what is made ------------------------------------------------------------------------------------------------

    def _jig(self, name: str) -> str:
        return name.replace("jig", "template") if self.stock.form.plate else name

    def _of_link(self, link: int) -> list[GearInTrain]:
        return [made for made in self.stock.gears if made.link == link]

    def _bodies(self) -> list[tuple[int, str]]:
        return sorted(self.bodies.items())

    def _first(self) -> BuildStep:
        what = "templates" if self.stock.form.plate else "jigs"
        hub = "gear to its hub" if self.stock.form.plate else "spokes of a small gear to its hub"
        screws = "; set screws hold wheel and pinion on their arbor" if self.design.wire.set_screws else ""
        lines = (
            f"Print the templates at 100 % and measure the {bar_told('in' in self.lengths.units)} on every sheet "
            "before you trust it.",
            f"The {what} of the two smallest rings and of the gears between them come first: "
            "what is wrong in the wire, the solder or the print shows there at the least cost.",
            f"Solder the {hub}, which the parts list has{screws}.",
            "Prick a mark on every ring and gear at one tooth: turns are counted by it.",
        )
        return BuildStep("Before the first gear", tuple(map(Operation, lines)))

    def _parts(self) -> BuildStep:
        """All that is no gear: made or bought, in one go, by the parts list."""
        stock, work = self.stock, []

        def have(text: str, made: Sequence[str], told: str = "") -> None:
            if made:
                work.append(Operation(text.format(told or "; ".join(merged(made))), makes=tuple(made)))

        rollers = [_roller(one.ring, one.number) for one in stock.rollers]
        held = "stubs, held by arms" if self.supports is not None else "stubs, held from the frame"
        what = "posts" if self.fit.plate != "none" else held
        posts = [post.carries for post in stock.posts if post.carries not in rollers]
        told = "; ".join([*merged(posts), *([f"the {len(rollers)} rollers"] if rollers else [])])
        have("Hubs, bored for their arbors: {}.", [_hub(hub.use) for hub in stock.hubs], self._hubs_told())
        have("Sleeves: {}.", [_arbor(arbor.link) for arbor in stock.arbors])
        have(f"Rods for {what}: {{}}.", [_post(post.carries) for post in stock.posts], told)
        have("Grooved rollers: {}.", rollers, f"{len(rollers)}, for {_and_rings([one.ring for one in stock.rollers])}")
        names = ", ".join(body for _, body in self._bodies())
        have("Rods that bodies stand on: of {}.", [_rod(stand.body) for stand in stock.stands], names)
        have("Bodies: {}.", [_body(body) for _, body in self._bodies()], names)
        drive = self.placement.drive
        if drive is not None:
            told = f"A motor of {float(drive.rpm):g} rev/min, and its shaft or what lengthens it."
            if self.design.cranked:
                told = "A hand crank and its shaft."
            work.append(Operation(told, makes=(drive_name(self.design), SHAFT)))
        return BuildStep("Make or buy what is no gear, by the parts list", tuple(work))

    def _hubs_told(self) -> str:
        count = len(self.stock.hubs)
        solid = sum(not hub.bore_mm for hub in self.stock.hubs)
        told = f"{count}, one for each small gear"
        return f"{told}; that of the motor pinion for the motor's shaft" if solid else told

    def _make(self, heading: str, gears: Sequence[GearInTrain], made: set[str]) -> Iterator[BuildStep]:
        """The jigs that are not there yet, then every gear that is made on them: each jig is set up once."""
        jigs = list(dict.fromkeys(self.jig_of[one.gear.use] for one in gears))
        new = [jig for jig in jigs if jig not in made]
        if not new:
            return
        made.update(new)
        told = "cut out" if self.stock.form.plate else "drilled and pinned"
        word = "templates" if self.stock.form.plate else "jigs"
        each = f"{_and([jig.split()[-1] for jig in new])}, {'each ' if len(new) > 1 else ''}{told} by its drawing."
        yield BuildStep(f"Make the {word} of {heading}", (Operation(each, makes=tuple(new)),))
        every = [one for jig in new for one in self.stock.gears if self.jig_of[one.gear.use] == jig]
        yield BuildStep(f"Make the gears of {heading}", tuple(map(self._gear, every)))

    def _gear(self, one: GearInTrain) -> Operation:
        use, jig = one.gear.use, self.jig_of[one.gear.use]
        told = f"{use}: {one.gear.teeth} {one.toothing}, on {jig}"
        if one.gear.kind == "ring":
            return Operation(told, makes=(use,), uses=(jig,))
        return Operation(f"{told}, with its hub", makes=(use,), uses=(jig, _hub(use)), mounts=(_hub(use),))

    # -- trying and mounting -----------------------------------------------------------------------------------------

    def _board(self, link: int) -> Iterator[Operation]:
        """How two rings and their link are set up on a board; lengths from the main axis."""
        sizes, lengths, at = self.stock.sizes, self.lengths, self.placement.links[link]
        lower, upper = self.names[link], self.names[link + 1]
        for ring in (link, link + 1):
            inside = lengths.text(sizes.radius_mm(self.train.rings[ring]) - sizes.rim_mm)
            told = f"{self.names[ring]}: let it turn inside three pegs or rollers that touch it at radius {inside}."
            yield Operation(told, uses=(self.names[ring],))
        spacing = lengths.text(sizes.level_spacing_mm)
        yield Operation(f"Set {upper} on spacers {spacing} above {lower}, both about one centre.", uses=(lower, upper))
        radius = lengths.text(((at.arbor[0] / 1000) ** 2 + (at.arbor[1] / 1000) ** 2) ** 0.5)
        gears = self._of_link(link)
        fixed = tuple(one.gear.use for one in gears if one.part != "third gear")
        told = f"Arbor of link {link} on its post, {radius} from the centre, with its wheel and pinion."
        yield Operation(told, uses=(_post(_arbor(link)), _arbor(link), *fixed))
        thirds = [one for one in gears if one.part == "third gear"]
        for gear, spot in zip(thirds, at.thirds, strict=True):
            far = lengths.text(((spot[0] / 1000) ** 2 + (spot[1] / 1000) ** 2) ** 0.5)
            apart = ((spot[0] - at.arbor[0]) ** 2 + (spot[1] - at.arbor[1]) ** 2) ** 0.5 / 1000
            use = gear.gear.use
            told = f"{use}: {far} from the centre and {lengths.text(apart)} from the arbor."
            yield Operation(told, uses=(use, _post(use)))
        mend = "file" if self.stock.form.plate else "bend"
        yield Operation(
            "Turn it one whole turn of the outer ring: no tight place, no skipped tooth; else mark the tooth and "
            f"{mend} it."
        )

    def _rods(self) -> Operation:
        towards = "largest" if self.fit.stands == "outer" else "smallest"
        rods = [(_rod(body), self.names[ring]) for ring, body in self._bodies()]
        told = "; ".join(f"{rod} to {ring}" for rod, ring in rods)
        return Operation(
            f"Solder each square to its ring, in the middle of the rim, towards the {towards} ring's side: {told}. "
            "A wet cloth on the joints beside keeps them from melting again.",
            uses=tuple(ring for _, ring in rods),
            mounts=tuple(rod for rod, _ in rods),
        )

    def _put_bodies(self) -> Operation:
        bodies = [body for _, body in self._bodies()]
        rod = self.lengths.text(self.stock.sizes.post_mm)
        told = f"Put each on the end of its rod, in a hole of {rod}: {', '.join(bodies)}."
        return Operation(told, uses=tuple(map(_rod, bodies)), mounts=tuple(map(_body, bodies)))

    def _levels(self) -> Iterator[BuildStep]:
        """Assembly from the plate outwards, or from the smallest ring; after each level the link to the one before."""
        order = list(range(len(self.names)))
        if self.fit.plate == "outer":
            order.reverse()
        ratios, reverse = ring_ratios(self.train), reversals(self.train)
        for number, level in enumerate(order):
            done: list[TurnCheck] = []
            if number:
                done.append(self.checks[min(level, order[number - 1])])
            low, high = sorted((order[0], level))
            if number > 1 and ratios[high] / ratios[low] <= MOST_SLOW:
                same = reverse[low] == reverse[high]
                done.append(turn_check((self.names[low], self.names[high]), ratios[high] / ratios[low], same))
            yield BuildStep(f"Level {level}: {self.names[level]}", tuple(self._level(level)), tuple(done))

    def _level(self, level: int) -> Iterator[Operation]:
        """What is put up and on at a level: posts, then what turns on them, from the ring outwards."""
        outer = self.fit.plate == "outer"
        posts = [post for post in self.stock.posts if (post.top if outer else post.bottom) == level]
        carried = [post.carries for post in posts]
        rollers = tuple(_roller(one.ring, one.number) for one in self.stock.rollers if one.ring == level)
        plate = (PLATE,) if self.fit.plate != "none" else ()
        # What works with the ring comes first, then what works with that.
        gears = sorted((one for one in self.stock.gears if one.gear.level == level), key=lambda gear: gear.meshes)
        small = [one.gear.use for one in gears if one.gear.kind == "gear" and one.part != "motor pinion"]
        beside = tuple(map(Operation, beside_pins(self.stock, level, self.lengths)))
        if self.supports is not None:  # all of the level lies there before its arms do
            yield from beside
            yield from arms_up(self.supports, level, self.names[level], small)
        yield from map(Operation, behind(self.stock, posts, self.lengths))
        if carried:
            held = "each in the eye of its arm" if self.supports is not None else "each held from the frame"
            where = "in the plate" if plate else held
            told = f"Put up the posts, {where}: {', '.join(_shown(carried))}"
            if self.supports is not None and any(name.startswith("arbor") for name in carried):
                told += "; that of an arbor is soldered into its sleeve, which goes through its bush"
            told += "; put the rollers on theirs." if rollers else "."
            yield Operation(told, uses=plate, mounts=(*map(_post, carried), *rollers))
        rod = f", with the {_rod(self.bodies[level])}" if self.stock.stands and level in self.bodies else ""
        held = f" on its rollers{rod}" if rollers else f" on{rod}; without rollers, how it is held is left to you"
        if rollers:
            yield from map(Operation, over_rollers(self.stock, self.lengths))
        yield Operation(f"Put {self.names[level]}{held}.", mounts=(self.names[level],))
        arbors = [_arbor(one.link) for one in self.stock.arbors if (one.top if outer else one.bottom) == level]
        if self.supports is None:
            yield from beside
        if small:
            told = "Put on, in this order" if len(arbors) + len(small) > 1 else "Put on"
            yield Operation(f"{told}: {', '.join((*arbors, *small))}.", mounts=(*arbors, *small))
        for one in gears:
            if one.part == "motor pinion":
                told = f"Set the {SHAFT} in its place with the {one.gear.use} on it, not fixed yet."
                yield Operation(told, mounts=(SHAFT, one.gear.use))
        if not self.stock.stands and level in self.bodies:
            body, ring = self.bodies[level], self.names[level]
            yield Operation(f"Put {body} on {ring}, within its level.", mounts=(_body(body),))
        screws = next(one for one in self.stock.screws if one.level == level)
        sets = "1 set screw" if screws.sets == 1 else f"{screws.sets} set screws"
        told = f"{screws.rollers} of rollers, {sets}"
        if self.supports is None:  # else what stands in eyes is soldered
            told = f"{screws.posts} of posts, {told}"
        yield Operation(f"Screws of this level: {told}. Oil the bearings, check that nothing rubs.")

    def _drive(self, drive: DrivePlace) -> BuildStep:
        turning, cranked = dict(senses(self.stock)), self.design.cranked
        what = "crank" if cranked else f"motor of {float(drive.rpm):g} rev/min"
        tried = "Turn it to and fro for some minutes and feel where it binds."
        if not cranked:
            tried = "Run it on a low-voltage supply for an hour and feel every bearing for warmth."
        before = f"Turn the whole train once by hand before the {'crank' if cranked else 'motor'} is on."
        return BuildStep(
            "Drive",
            (
                Operation(before, uses=("motor pinion",)),
                Operation(
                    f"Fix the {what} to its shaft and fix the motor pinion on it, "
                    f"for {self.names[drive.ring]}; the shaft turns {turning['motor pinion']} seen from the front "
                    "while ring 0 turns counterclockwise.",
                    uses=("motor pinion", SHAFT),
                    mounts=(drive_name(self.design),),
                ),
                Operation(tried),
            ),
        )


def _hub(use: str) -> str:
    return f"hub of {use}"


def _arbor(link: int) -> str:
    return f"arbor of link {link}"


def _post(carries: str) -> str:
    return f"post of {carries}"


def _roller(ring: int, number: int) -> str:
    return f"roller {number} of ring {ring}"


def _rod(body: str) -> str:
    return f"rod of {body}"


def _body(body: str) -> str:
    return f"body {body}"


def _shown(carried: Sequence[str]) -> list[str]:
    """What posts carry, in words: rollers of a ring together."""
    others = [name for name in carried if not name.startswith("roller")]
    count = len(carried) - len(others)
    return [*others, *([f"{count} rollers"] if count else [])]


def _and(words: Sequence[str]) -> str:
    """ "R30, R34 and G18"."""
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def _and_rings(rings: Sequence[int]) -> str:
    """ "rings 0 to 9" or "ring 2"."""
    some = sorted(set(rings))
    if not some:
        return ""
    if len(some) > 1 and some == list(range(some[0], some[-1] + 1)):
        return f"rings {some[0]} to {some[-1]}"
    return ("ring " if len(some) == 1 else "rings ") + ", ".join(map(str, some))
