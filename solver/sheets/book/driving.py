"""The chapter on the drive: the moment that turns the model, the motor, its speed, and a hand that holds a ring."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import pi

from solver.answer.document import SolutionAnswer
from solver.design.loads import BEARINGS
from solver.design.train import DrivePlace
from solver.forces.held import SOLDER_SHARE, SOLDER_SHEAR_MPA, held_rings, screw_hold_n, speed_for
from solver.forces.model import LoadedModel
from solver.forces.slack import UNKNOWN, ring_plays
from solver.mechanics.metals import GRAVITY
from solver.sheets.book.cranking import cranking, mixed
from solver.sheets.book.document import Block, CautionBox, Figure, Heading, Items, Paragraph, TextTable
from solver.sheets.draw.curve import curve
from solver.sheets.gears.adjust import MeshInTrain
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.loaded import MOTOR_MARGIN, SLIP_MARGIN, loaded_model, loads_in, mesh_plays, strengths_of
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

STALL = 3  # times what a motor is told to give, or what is needed, where its stall torque is not told
_LEGIBLE = 40  # turns of the fastest body in the picture
_NONE = "–"
_SOURCES = {
    "ball": "bearing catalogues",
    "plain": "brass on steel, greasy: friction chart",
    "dry": "iron on bronze, dry: Collins, Inventing for Boys",
}


def driving(
    stock: Inventory, solution: SolutionAnswer, meshes: Sequence[MeshInTrain], lengths: Lengths
) -> Iterator[Block]:
    """The whole chapter."""
    yield from _Driving(stock, solution, meshes, lengths).blocks()


class _Driving:
    """What the chapter tells of one model."""

    def __init__(
        self, stock: Inventory, solution: SolutionAnswer, meshes: Sequence[MeshInTrain], lengths: Lengths
    ) -> None:
        self.stock, self.solution, self.meshes, self.lengths = stock, solution, meshes, lengths
        self.design, self.train, self.loads = stock.design, stock.train, loads_in(stock)
        self.model: LoadedModel = loaded_model(stock)
        self._module = stock.sizes.module_mm
        placement = self.train.placement
        self.drive: DrivePlace | None = None if placement is None else placement.drive
        self.crank = self.loads.crank if self.drive is not None else None
        self.root = "ring 0" if self.drive is None else "the crank" if self.crank is not None else "the motor"

    def blocks(self) -> Iterator[Block]:
        yield Heading("The drive")
        yield from self._need()
        if self.crank is not None:
            yield from cranking(self.stock, self.model, self.solution, self.lengths)
        elif self.drive is not None:
            yield from self._motor()
        if self.drive is not None:
            yield from self._speed()
            yield from self._elsewhere()
        if self.drive is not None and self.crank is None:
            yield from self._held()
        yield Heading("How this was worked out", 2)
        yield Items(tuple(self._formulas()))

    # -- what is needed ----------------------------------------------------------------------------------------------

    def _need(self) -> Iterator[Block]:
        model = self.model
        yield Heading(f"The moment at {self.root}", 2)
        told = "" if self.drive is not None else " The file has no drive: this is what turns ring 0, by hand say."
        yield Paragraph(
            f"What must turn the model at {self.root}, at its own speed of turning, friction and meshes counted.{told}"
        )
        rows = [("never more, wherever the bodies stand", model.most_nmm)]
        span = None
        shown = self._shown()
        if shown is not None:
            span = model.turn_of(shown)
            what = f"over one turn of {ring_name(self.design, self.train, shown)}, all bodies straight up first"
            rows += [(f"most {what}", float(span.moment_nmm.max())), (f"least {what}", float(span.moment_nmm.min()))]
        rows += [("if every body were balanced", model.friction_alone_nmm)]
        if model.upright:
            rows += [("never less, wherever the bodies stand", model.least_nmm)]
        heads = (f"moment at {self.root}", "[N mm]", "[N cm]")
        yield TextTable(heads, tuple((what, f"{nmm:.1f}", f"{nmm / 10:.2f}") for what, nmm in rows), "lrr")
        if model.least_nmm < 0:
            yield Paragraph(
                f"Where it is below 0 the bodies turn {self.root}: what drives the model must hold it back, and all of "
                "its play is run through."
            )
        if span is not None and shown is not None:
            share = span.turns / span.turns[-1]
            name = ring_name(self.design, self.train, shown)
            axes = (f"turns of {name}", f"moment at {self.root} [N mm]")
            yield Figure(
                curve(
                    f"Moment at {self.root}", list(map(float, share)), list(map(float, span.moment_nmm)), axes,
                    ((model.friction_alone_nmm, "balanced"), (model.most_nmm, "never more")),
                )
            )  # fmt: skip

    def _shown(self) -> int | None:
        """The ring over whose turn the moment is shown: the slowest with a body that pulls it about, during whose turn
        the fastest of them can still be told apart; None where nothing pulls."""
        if not self.model.upright:
            return None
        speeds = {load.ring: self.model.ring_shaft(load.ring).speed for load in self.model.rings if load.moment_nmm}
        if not speeds:
            return None
        fastest = max(speeds.values())
        return min((ring for ring in speeds if fastest / speeds[ring] <= _LEGIBLE), key=lambda ring: speeds[ring])

    # -- motor -------------------------------------------------------------------------------------------------------

    def _motor(self) -> Iterator[Block]:
        need = self.model.most_nmm / 10
        yield Heading("The motor", 2)
        torque = self.loads.torque_ncm
        if torque is None:
            yield Paragraph(
                f"Take a motor that gives at least {MOTOR_MARGIN * need:.1f} N cm at {self._rpm()}, {MOTOR_MARGIN:g} "
                "times what is needed (common practice, no source). Its maker tells it; put it in as drive.torque_ncm, "
                "and the sheets say what margin it has."
            )
            return
        margin = float(torque) / need
        enough = "enough" if margin >= MOTOR_MARGIN else "little" if margin >= 1 else "too weak"
        yield Paragraph(
            f"The motor gives {float(torque):g} N cm and {need:.1f} N cm are needed: {margin:.2f} times that, "
            f"{enough} ({MOTOR_MARGIN:g} times is usual; common practice, no source)."
        )

    def _rpm(self) -> str:
        assert self.drive is not None
        return f"{decimal(float(self.drive.rpm), 3)} rev/min"

    def _speed(self) -> Iterator[Block]:
        """The exact speed for the wished time."""
        assert self.drive is not None and self.design.drive is not None
        turn = self.design.drive.turn
        if turn is None:
            return
        body, seconds = turn
        name, exact = self.design.bodies[body].name, speed_for(self.model.shafts, self.train.seats[body], seconds)
        off = 100 * (self.drive.rpm / exact - 1)
        how = "too fast" if off > 0 else "too slow"
        told = f"{self._rpm()} is {abs(float(off)):.3f} % {how}" if off else f"{self._rpm()} is exactly that"
        yield Heading("The exact speed", 2)
        yield Paragraph(
            f"For a turn of {name} in {float(seconds):g} s {self.root} turns at exactly {mixed(exact)} rev/min"
            f"{'' if exact.denominator == 1 else f', {float(exact):.6g}'}. {told}."
        )

    def _elsewhere(self) -> Iterator[Block]:
        """The same model driven at each of its rings."""
        assert self.drive is not None
        now = self.drive.ring
        found = []
        for ring in range(len(self.train.rings)):
            model = loaded_model(self.stock, ring)
            plays = ring_plays(model.shafts, mesh_plays(self.stock, model.shafts, self.meshes), self._module)
            some = [plays[seat].most_deg for seat in self.train.seats]
            known = [play for play in some if play is not None]
            work = 2 * pi * model.most_nmm / float(model.ring_shaft(0).speed)
            found.append((ring, work, max(known) if len(known) == len(some) else None))
        base = found[now][1]
        yield Heading("Which ring the drive works with", 2)
        yield Paragraph(
            "The same train driven at each of its rings: the most that it may need for one turn of ring 0, beside what "
            "it needs now, and the most play that a body then has, that of the drive's own mesh apart. Where little "
            "power goes through many meshes, less is lost. drive.ring, motor_rpm and pinion_teeth choose the ring."
        )
        yield TextTable(
            ("driven at", "needs, of now", "most play"),
            tuple(
                (
                    ring_name(self.design, self.train, ring) + (", as now" if ring == now else ""),
                    _times(work / base) if base else _NONE,
                    UNKNOWN if play is None else f"{play:.1f}°",
                )
                for ring, work, play in found
            ),
            "lrr",
        )

    # -- a hand ------------------------------------------------------------------------------------------------------

    def _held(self) -> Iterator[Block]:
        loads, model = self.loads, self.model
        need, told = model.most_nmm, loads.torque_ncm
        if loads.stall_ncm is not None:
            stall, source = 10 * float(loads.stall_ncm), "as drive.stall_ncm tells"
        elif told is not None:
            stall, source = STALL * 10 * float(told), f"taken as {STALL} times drive.torque_ncm, as it is not told"
        else:
            stall, source = STALL * need, f"taken as {STALL} times what is needed, as it is not told"
        slip = SLIP_MARGIN * need
        hand, module = float(loads.hand_n), self._module
        strengths = strengths_of(self.stock)
        whole = held_rings(model.shafts, stall, module, strengths, hand)
        clutched = held_rings(model.shafts, slip, module, strengths)
        yield Heading("If a hand holds a ring", 2)
        worst = max(whole, key=lambda one: one.rim_n)
        yield CautionBox(
            "Fingers",
            (
                f"Keep fingers, hair and sleeves out of a model that turns. A motor that is held gives "
                f"{stall / 10:.1f} N cm ({source}); at the rim of {ring_name(self.design, self.train, worst.ring)} "
                f"that is up to {worst.rim_n:.0f} N, no losses counted: the weight of {worst.rim_n / GRAVITY:.1f} kg.",
                f"Put a clutch that slips between the motor and its pinion. It must not slip below {slip / 10:.1f} "
                f"N cm, {SLIP_MARGIN:g} times what is needed (common practice, no source); set it no tighter.",
            ),
        )
        yield Paragraph(
            "Force at the pitch circle of a ring that is held, and the place between motor and ring that has the most "
            f"of what it should bear, with the motor held fast or a hand of {hand:g} N (loads.hand_n) on the rim, "
            "whichever is more. More than 1: it may break or slip there."
        )
        rows = []
        for one, other in zip(whole, clutched, strict=True):
            first = (_NONE, _NONE) if one.first is None else (one.first.what, _times(one.first.share))
            behind = _NONE if other.first is None else _times(other.first.share)
            name = ring_name(self.design, self.train, one.ring)
            rows.append((name, f"{one.rim_n:.1f}", f"{other.rim_n:.1f}", *first, behind))
        heads = ("ring", "motor held [N]", "clutch slips [N]", "gives first", "times what it bears", "with the clutch")
        yield TextTable(heads, tuple(rows), "lrrlrr")
        over = [one.first for one in clutched if one.first is not None and one.first.share > 1]
        if over:
            most = max(over, key=lambda one: one.share)
            yield Paragraph(
                f"Even with the clutch {_times(most.share)} times what it should bear for good comes on {most.what}: "
                "lighten or balance the bodies, give rollers less friction, or let the drive work with another ring."
            )

    # -- how ---------------------------------------------------------------------------------------------------------

    def _formulas(self) -> Iterator[str]:
        loads = self.loads
        yield (
            f"Meshes pass on {100 * float(loads.mesh_efficiency):g} % of what goes in, from the side that drives: spur "
            "gears 0.85 (power transmission data); a whole hand winch has 7/12 to 8/12 of theory (training manual). "
            "loads.mesh_efficiency."
        )
        source = "told in the file"
        if loads.bearing_friction == BEARINGS[loads.bearing]:
            source = _SOURCES[loads.bearing]
        yield (
            f"Bearings of arbors and third gears: {float(loads.bearing_friction):g} ({source}) × weight × bore / 2 "
            f'(bearing catalogues), loads.bearing = "{loads.bearing}". What meshes press on them is in the efficiency '
            "of meshes. Seals and grease cost more, how much is not known."
            + ("" if self.design.cranked or self.drive is None else " The motor's own bearings are the motor's.")
        )
        yield "Friction is known to a factor of two at best, so no figure of this chapter is better than that."
        if self.model.upright and self.design.fit.rollers is not None:
            yield (
                "A ring hangs with its inner edge on the two rollers nearest to straight up, which share its weight by "
                "their directions (Lami's theorem). Rolling itself, and the sides of grooves, are left out."
            )
        yield "Rates between shafts are exact. Speeds are slow: nothing is counted for speeding up and slowing down."
        if self.drive is not None and self.crank is None:
            screw = self.stock.fittings.screw
            yield (
                f"Soldered joints are loaded with {100 * SOLDER_SHARE:g} % of {SOLDER_SHEAR_MPA:g} MPa, the shear "
                "strength of 63/37, tin with lead, for a short time (Manko, Solders and Soldering, table 5-3); a tooth "
                "or pin alone takes all force, on two joints. That is the safe side: tin with 3 to 4 % silver, which "
                "is free of lead, bears no less, and silver solder about five times as much (from memory). A set "
                f"screw {screw.name} holds {screw_hold_n(screw.major):.0f} N at its shaft's surface (half "
                "of what tables have for 4-40 on steel, by the square of the diameter; from memory)."
            )


def _times(share: float) -> str:
    return f"{share:.2f}" if share < 10 else f"{share:.0f}"
