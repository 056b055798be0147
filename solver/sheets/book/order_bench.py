"""The whole order of work: the build order with what is bought, the trial of each pair, and running in.

What is bought has its name from the shopping list. It is there from the first step on; where it goes a step says so.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from solver.design.hardware import Hardware
from solver.sheets.book.fixings import balanced_rings, flange_told, screw_part
from solver.sheets.book.on_plate import collars_of
from solver.sheets.book.order import build_order
from solver.sheets.book.shopping import ShoppingRow
from solver.sheets.book.steps import BuildStep, Operation
from solver.sheets.book.trials import of_link, trial
from solver.sheets.gears.adjust import MeshInTrain
from solver.sheets.gears.fastening import GRIP, LABEL_SCREWS, MOTOR_SCREWS, bush_mm, screw_uses
from solver.sheets.gears.gears import drive_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.steps.holding import bar_names
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.label import label_layout
from solver.words.lengths import Lengths

BUY = "Buy what the shopping list says"
RUN_IN = "Run it in"
_SELF = ("motor", "body")  # bought with all that is no gear, under their own names


def whole_order(
    stock: Inventory,
    lengths: Lengths,
    meshes: Sequence[MeshInTrain],
    rows: Sequence[ShoppingRow],
    supports: SupportsMade | None = None,
) -> tuple[BuildStep, ...]:
    """Every step of the work, in order. meshes: of the train; rows: the shopping list; supports: frame and arms."""
    return tuple(_Bench(stock, lengths, meshes, rows, supports).steps())


class _Bench:
    """Adds to each step what is bought for it."""

    def __init__(
        self,
        stock: Inventory,
        lengths: Lengths,
        meshes: Sequence[MeshInTrain],
        rows: Sequence[ShoppingRow],
        supports: SupportsMade | None,
    ) -> None:
        self.stock, self.lengths, self.meshes, self.supports = stock, lengths, meshes, supports
        self.parts: dict[str, tuple[str, ...]] = {}
        self.uses = {one.what: one for one in screw_uses(stock)}
        self.plated = stock.design.fit.plate != "none"
        self.shared = {row.part for row in rows if row.what == "wire" and "arms" in row.used_for}
        for row in rows:
            self.parts[row.what] = tuple(dict.fromkeys((*self.parts.get(row.what, ()), row.part)))

    def screws(self, what: str) -> tuple[str, ...]:
        """The screws for a use, with what belongs to them: washers, nuts."""
        use = self.uses.get(what)
        if use is None:
            return ()
        with_it = (*(("washer",) if use.washer else ()), *(("nut",) if use.nut else ()))
        return (screw_part(self.stock, use, self.lengths), *self.named(*with_it))

    def named(self, *whats: str) -> tuple[str, ...]:
        """The names of what is bought of these kinds."""
        return tuple(part for what in whats for part in self.parts.get(what, ()))

    def steps(self) -> Iterator[BuildStep]:
        bought = tuple(part for what, some in self.parts.items() if what not in _SELF for part in some)
        yield BuildStep(BUY, (Operation(f"{'; '.join(bought)}.", makes=bought),))
        link = 0
        for step in build_order(self.stock, self.lengths, self.supports):
            title = step.title
            if title.startswith("Make or buy"):
                yield replace(step, work=(*self._stock(), *step.work, *self._seats()))
            elif title.startswith(("Make the jigs", "Make the templates")):
                yield replace(step, work=(*step.work, *self._jigs()))
            elif title.startswith("Make the gears"):
                yield replace(step, work=(*self._gears(), *step.work, *self._pressed(step)))
            elif title.startswith("Try link"):
                told = trial(self.stock, of_link(self.meshes, link), self.lengths)
                yield replace(step, work=(*step.work, *map(Operation, told)))
                link += 1
            elif title == "Rods of the bodies":
                solder = self._with("Solder them: {}.", "solder")
                yield replace(step, work=(*self._feet(), *step.work, *self._opposite(), *solder))
            elif title == "Drill the plate":
                yield replace(
                    step, work=(*self._with("From {}.", "plate"), *step.work, *self._for_label(), *self._on_feet())
                )
            elif title.startswith("Level"):
                yield replace(step, work=(*step.work, *self._level(step)))
            elif title.startswith("Frame and arms"):
                solder = self._with("Solder them: {}.", "solder")
                yield replace(step, work=(*self._rods(), *step.work, *self._for_label(), *solder))
            elif title == "The frame":
                caps = self._with("A cap on the end of each foot: {}.", "foot cap")
                yield replace(step, work=(*caps, *step.work))
            elif title == "Drive":
                yield replace(step, work=(*step.work[:1], *self._motor(), *step.work[1:]))
            elif title == "Put the plate up":
                yield from self._finished()
                text = "Into the structure of the wall, level, as far apart as the holes, a spacer on each: {}."
                yield replace(step, work=(*self._with(text, "wall fixing", "plate spacer"), *step.work))
            else:
                yield step
        if not self.plated:
            yield from self._finished()
        if self.supports is not None and self.named("wall fixing"):
            yield BuildStep("Hang it", tuple(self._hang()))
        yield BuildStep(RUN_IN, tuple(self._run_in()))

    def _with(self, text: str, *whats: str) -> Iterator[Operation]:
        """An operation that uses what is bought of these kinds; none where nothing is."""
        some = self.named(*whats)
        if some:
            yield Operation(text.format("; ".join(some)), uses=some)

    # -- made on the bench -----------------------------------------------------------------------------------------

    def _stock(self) -> Iterator[Operation]:
        yield from self._with("Saw to the lengths of the parts list, from the bars of the shopping list: {}.", "rod")
        bush = "; the bush in the plate too" if bush_mm(self.stock) else ""
        yield from self._with(f"Sleeves from {{}}, their ends square{bush}.", "tube")
        yield from self._with("Hubs from {}, faced and bored by the parts list.", "hub rod")
        yield from self._tapped()

    def _tapped(self) -> Iterator[Operation]:
        """Threads in the ends of posts: as deep as their screws go in, and a diameter more."""
        screw, told = self.stock.fittings.screw, self.lengths.text
        posts, rollers = self.uses.get("posts"), self.uses.get("rollers")
        deep = {what: told(use.held_mm + screw.major) for what, use in self.uses.items()}
        if posts is not None:
            text = f"Drill and tap the plate's end of each post for {screw.name}, {deep['posts']} deep"
            text += f"; of one that holds a roller the other end too, {deep['rollers']} deep" if rollers else ""
            text += ". One that is too short for its threads is tapped right through."
            yield Operation(text, uses=self.named("rod"))
        elif rollers is not None:
            which = "stub" if self.supports is not None else "post"
            text = f"Drill and tap the free end of each {which} of a roller for {screw.name}, {deep['rollers']} deep."
            yield Operation(text, uses=self.named("rod"))

    def _rods(self) -> Iterator[Operation]:
        """What frame and arms are made from."""
        yield from self._with("Saw bars and arms by the cut list, from {}.", "frame rod")
        shared = tuple(row for row in self.named("wire") if row in self.shared)
        if shared:
            yield Operation(f"Saw bars and arms by the cut list, from {'; '.join(shared)}.", uses=shared)
        yield from self._with("Bushes from {}, their ends square.", "bush tube")

    def _hang(self) -> Iterator[Operation]:
        """On the wall, once it runs on the bench."""
        assert self.supports is not None
        eyes = next(bar for bar in self.supports.frame.bars if bar.thin)
        apart = self.lengths.text(max(x for x, _ in eyes.spots) - min(x for x, _ in eyes.spots))
        names = bar_names(eyes)
        yield from self._with(f"Put these into the structure of the wall, level, {apart} apart: {{}}.", "wall fixing")
        yield Operation(
            "Lift the frame with two people, at its bars and never at its arms, and hang it up.", uses=names
        )
        yield Operation("Turn it by hand once more: hung, every ring has settled on its rollers.")

    def _seats(self) -> Iterator[Operation]:
        fittings, told = self.stock.fittings, self.lengths.text
        seat = fittings.arbor
        if seat is not None and seat.where:
            what = (
                "each end of each sleeve"
                if seat.where == "sleeve"
                else "the outer face of each wheel's and pinion's hub"
            )
            yield Operation(f"Bore a seat of {told(seat.bore_mm)}, {told(seat.deep_mm)} deep, into {what}.")
            if seat.where == "sleeve":
                yield from self._with("Press into these seats: {}.", "bearing")
        if fittings.roller is not None and fittings.roller.where:
            yield from self._with("Press into the middle of each roller: {}.", "bearing")
        if any(seat is not None and not seat.where for seat in (fittings.arbor, fittings.third, fittings.roller)):
            yield Operation(
                f"Ream to H7 what runs on a post without a ball bearing, and polish the post until it turns freely: "
                f"{fittings.play_told(self.lengths.unit)} of play (ISO 286-2, from memory)."
            )
        yield from self._with("Look at each before it goes on a post: {}.", "roller")

    def _jigs(self) -> Iterator[Operation]:
        yield from self._with("On one piece of {}, its template glued on; punch every cross before you drill.", "board")
        yield from self._with("In the holes of tips and roots of the jig that stands: {}.", "jig pin")

    def _gears(self) -> Iterator[Operation]:
        yield Operation(
            "While a jig stands, make every gear that it serves, so that each is set up once. Lay the first one on its "
            "template before you make the others."
        )
        yield from self._with("By the cut list, from {}.", "wire")
        yield from self._with("Saw each from a square of {}.", "sheet")
        yield from self._with("Small fillets all round, of {}; wash the flux off.", "solder")

    def _pressed(self, step: BuildStep) -> Iterator[Operation]:
        """The bearings that go into the hubs of the gears of a step, which have been soldered."""
        fittings = self.stock.fittings
        for word, seat in (("wheel", fittings.arbor), ("pinion", fittings.arbor), ("third gear", fittings.third)):
            if seat is not None and seat.where == "hub" and any(name.startswith(word) for name in step.makes):
                yield from self._with(f"Once it is cold, press into the hub of each {word}: {{}}.", "bearing")

    def _feet(self) -> Iterator[Operation]:
        feet = [stand.foot for stand in self.stock.stands]
        told = self.lengths.text
        foot = max(feet, key=lambda one: one.outside_mm + one.inside_mm)
        if foot.outside_mm or foot.inside_mm:
            yield Operation(
                f"File the foot of each rod flat for {told(foot.long_mm)}: {told(foot.outside_mm)} off on the side of "
                f"the teeth, {told(foot.inside_mm)} on the side of the axis, so that {told(foot.thick_mm)} are left. "
                "What works with its ring and the flanges of its rollers pass there."
            )

    # -- put on ------------------------------------------------------------------------------------------------------

    def _level(self, step: BuildStep) -> Iterator[Operation]:
        level = int(step.title.split(":")[0].removeprefix("Level "))
        screws = next(one for one in self.stock.screws if one.level == level)
        if screws.posts:
            where = "through the plate" if self.plated else "through what the frame holds"
            some = self.screws("posts")
            hole = self.lengths.text(self.stock.fittings.screw.clearance)
            yield Operation(f"Each post has its screw {where}, clearance hole {hole}: {'; '.join(some)}.", uses=some)
        elif self.plated and any(name.startswith("post of") for name in step.mounts):
            text = (
                "Solder each post into its hole, flush with the plate's back, when its mesh runs or its roller touches"
            )
            yield from self._with(f"{text}: {{}}.", "solder")
        if screws.rollers:
            some = self.screws("rollers")
            told = f"Each roller is held by a screw in the end of its post: {'; '.join(some)}"
            collars = self.named("collar") if collars_of(self.stock).wide_mm else ()
            told += f"; between, with a hair of play: {'; '.join(collars)}." if collars else "."
            yield Operation(told, uses=(*some, *collars))
        elif self.plated and any(name.startswith("roller") for name in step.mounts):
            yield from self._with("In front of each roller, soldered with a hair of play: {}.", "collar")
        last = "wheel" if self.stock.design.fit.plate == "outer" else "pinion"
        held = ("third gear",) if self.supports is not None else (last, "third gear")
        if any(name.startswith(held) for name in step.mounts):
            whose = "of third gears" if self.supports is not None else f"whose {last} is on, and of third gears"
            yield from self._with(f"On the free end of each post {whose}, with a hair of play: {{}}.", "collar")
        if self.supports is not None and any(name.startswith(("arm of", "pinion")) for name in step.mounts):
            text = "When rollers touch and meshes run, those of an arbor on both of its levels, solder stubs and bushes"
            yield from self._with(f"{text} into their eyes, a wet cloth about what turns: {{}}.", "solder")
        if screws.sets:
            yield from self._with("Fix each wheel and pinion to its sleeve, on a flat: {}.", "set screw")

    def _motor(self) -> Iterator[Operation]:
        told, post = self.lengths.text, self.stock.sizes.post_mm
        yield from self._with("On the drive's shaft, on either side of its bush in the plate: {}.", *self._collars())
        if self.stock.design.cranked:
            yield Operation(
                f"The crank is on the far side of the plate, {told(GRIP * post)} of its shaft in it, pinned or "
                "soldered; its handle where nothing is in a hand's way."
            )
            return
        coupling = self.named("coupling")
        text = f"On the end of the drive's shaft, {told(GRIP * post)} of it inside, the clutch set as the list says"
        yield Operation(f"{text}: {'; '.join(coupling)}.", uses=coupling)
        pillars, motor = self.named("pillar"), self.screws("the motor")
        if pillars:
            some = (*pillars, *self.screws("pillars"))
            yield Operation(
                f"On the plate's back, with {MOTOR_SCREWS} screws through the plate: {'; '.join(some)}.", uses=some
            )
        bracket = self.named("bracket")
        yield from self._with("Bend and solder it to two bars of the frame, behind the shaft of M: {}.", "bracket")
        to = "to its pillars" if pillars else "to its strip" if bracket else "to what the frame holds"
        text = f"Screw the motor down {to}, {flange_told(self.lengths)}, its shaft in the coupling, with {MOTOR_SCREWS}"
        yield Operation(f"{text} of each: {'; '.join(motor)}.", uses=(*motor, drive_name(self.stock.design)))

    def _collars(self) -> tuple[str, ...]:
        return ("collar",) if bush_mm(self.stock) else ()

    def _on_feet(self) -> Iterator[Operation]:
        feet, screws = self.named("foot"), self.screws("feet")
        if feet:
            yield Operation(f"Screw the feet on, from the front: {'; '.join((*feet, *screws))}.", uses=(*feet, *screws))

    def _opposite(self) -> Iterator[Operation]:
        """Rods for counterweights, as those of the bodies."""
        some = balanced_rings(self.stock)
        if some:
            where = ", ".join(one.name for one in some)
            text = f"Opposite to the body's rod a second one, as long and filed alike, for a counterweight: on {where}"
            yield Operation(f"{text}; pictures do not show them.", uses=self.named("rod"))

    def _finished(self) -> Iterator[BuildStep]:
        """Before it is put up: what flops is balanced, each where its body is not; and the label."""
        weights = self.named("counterweight")
        if weights:
            on = "on the rod opposite to its body" if self.stock.stands else "on the ring, opposite to its body"
            room = "" if self.stock.stands else ", within its level, clear of arms, rollers and what meshes"
            told = f"Each {on}, in line with the body{room}: {'; '.join(weights)}."
            rest = "Weigh each before it goes on. Where a body weighs more or less than these sheets take, its "
            rest += "counterweight does in the same share."
            yield BuildStep("Counterweights", (Operation(told, uses=weights), Operation(rest)))
        if self.named("label"):
            yield BuildStep("Label", tuple(self._label()))

    def _for_label(self) -> Iterator[Operation]:
        """Where the label will be: made with what holds it."""
        layout, told, tabs = label_layout(self.stock), self.lengths.text, self.named("label tab")
        if layout is None:
            return
        text = f"{LABEL_SCREWS} holes of {told(layout.hole_mm)}, {told(layout.apart_mm)} apart, for the label by its "
        text += "drawing: in the plate, at its lower edge where nothing turns."
        if tabs:
            text = (
                f"A hole of {told(layout.hole_mm)} in each {tabs[0]}; bend them about the frame's lowest bar in front "
            )
            text += f"and solder them, their holes {told(layout.apart_mm)} apart as in the label's drawing."
        yield Operation(text, uses=(*self.named("label"), *tabs))

    def _label(self) -> Iterator[Operation]:
        label = (self.stock.design.hardware or Hardware()).label
        some = self.screws("the label")
        text = label.text if label is not None and label.text else self.stock.design.title
        plate = self.named("label")
        told = f"Fix the {plate[0]}, \u201c{text}\u201d, with {LABEL_SCREWS} of each: {'; '.join(some)}."
        yield Operation(told, uses=(*plate, *some))

    def _run_in(self) -> Iterator[Operation]:
        """By hand, slowly, then as it is meant (common practice, no source)."""
        last = next(made.gear.use for made in reversed(self.stock.gears) if made.gear.kind == "ring")
        sets = self.named("set screw")
        yield Operation(
            f"By hand: ten whole turns of {last}, one way and the other, a drop of oil on every bearing.", uses=(last,)
        )
        if self.stock.design.cranked:
            yield Operation(
                "With the crank: a hundred turns one way and a hundred the other.",
                uses=(drive_name(self.stock.design),),
            )
        elif self.stock.design.drive is not None:
            yield Operation(
                "With the motor, slowly (at half its voltage, where that helps): an hour; then an hour at full speed.",
                uses=(drive_name(self.stock.design),),
            )
        held = [what for what in ("posts", "rollers", "pillars", "the motor") if what in self.uses]
        tight = f"Tighten again what has settled: {', '.join((*sets, *(f'screws of {what}' for what in held)))}"
        yield Operation(
            f"{tight}. A set screw that has moved gets a drop of thread lock, of the kind that comes off.", uses=sets
        )
        lost = "its post" if self.supports is None else "its arm"
        told = f"Measure the play of every mesh once more: one that has grown has lost {lost}; set it again."
        yield Operation(told)
