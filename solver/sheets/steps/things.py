"""Where every part of a placed train stands, by its number: what the pictures of steps draw [mm of the model]."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from math import atan2, degrees

from solver.design.links import KIND_BY_NAME
from solver.sheets.draw.drawing import Box, Point
from solver.sheets.gears.gears import drive_name, ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.looks import Look, looks_of
from solver.sheets.steps.holding import HeldShape, holding
from solver.sheets.steps.numbers import numbers_of
from solver.sheets.supports.made import SupportsMade
from solver.sheets.views.model import Model, PlacedGear


@dataclass(frozen=True)
class PlacedPart:
    """A part where it stands.

    kind: "ring", "gear", "hub", "arbor", "post", "roller", "shaft", "motor", "rod" or "body"; "bar", "arm" or "bush".
    levels: the first and the last that it takes; of a post, those of what turns on it. radius: how far it reaches from
    its middle; inside: that of its hole, 0 without one. on: the part it is fixed to before it comes to the model, ""
    for none. turn_deg: where tooth 0 is, counterclockwise from the right; look: its teeth, None where they cannot be
    drawn. says: what a label adds to its number. beyond: 1 for what ends beyond the last of its levels, away from ring
    0; -1 towards ring 0. shape: of frame and arms, which lie between levels.
    """

    name: str
    number: str
    kind: str
    at: Point
    levels: tuple[int, int]
    radius: float
    inside: float = 0.0
    on: str = ""
    teeth: int = 0
    turn_deg: float = 0.0
    look: Look | None = None
    says: str = ""
    beyond: int = 0
    shape: HeldShape | None = None

    @property
    def span(self) -> tuple[float, float]:
        """The first and the last level that it takes; 3.5 for what lies in gap 3."""
        return (min(self.levels), max(self.levels)) if self.shape is None else (self.shape.first, self.shape.last)

    @property
    def box(self) -> Box:
        """Left, low, right and top from the front [mm of the model]."""
        (x, y), far = self.at, self.radius
        return (x - far, y - far, x + far, y + far) if self.shape is None else self.shape.box


class PlacedParts:
    """All parts of a placed train by name, in the build order's names; raises as `inventory`. supports:
    frame and arms; model: the train in millimetres."""

    def __init__(self, stock: Inventory, supports: SupportsMade | None = None) -> None:
        self.stock, self.model = stock, Model(stock.design, stock.train)
        self.numbers = numbers_of(stock, supports)
        self.by_name: dict[str, PlacedPart] = {}
        for one in () if supports is None else holding(supports):
            left, low, right, top = one.shape.box
            self._add(one.name, one.kind, one.at, (0, 0), max(right - left, top - low) / 2, shape=one.shape)
        self._spots = self._gear_spots()
        self._gears()
        self._shafts()
        self._bodies()

    def some(self, names: Collection[str]) -> list[PlacedPart]:
        """The things of these names that stand somewhere, in the order in which all of them are known."""
        wanted = set(names)
        return [thing for name, thing in self.by_name.items() if name in wanted]

    def _add(self, name: str, kind: str, at: Point, levels: tuple[int, int], radius: float, **more: object) -> None:
        self.by_name[name] = PlacedPart(name, self.numbers[name], kind, at, levels, radius, **more)  # type: ignore[arg-type]

    # -- gears -------------------------------------------------------------------------------------------------------

    def _gear_spots(self) -> dict[str, PlacedGear]:
        """The gears of links and of the drive by their uses."""
        found, seen = {}, dict.fromkeys(range(len(self.stock.train.links)), 0)
        for gear in self.model.gears:
            if gear.part == "third":
                kind = KIND_BY_NAME[self.stock.train.links[gear.link].kind]
                side = "wheel" if seen[gear.link] < kind.wheel_thirds else "pinion"
                seen[gear.link] += 1
                found[f"third gear of link {gear.link} ({side} side)"] = gear
            elif gear.link < 0:
                found["motor pinion" if gear.part == "motor-pinion" else "third gear of the motor"] = gear
            else:
                found[f"{gear.part} of link {gear.link}"] = gear
        return found

    def _gears(self) -> None:
        model, stock = self.model, self.stock
        looks, turns = looks_of(stock.design, stock.train), self._turns()
        hub = stock.sizes.hub_mm / 2
        for index, made in enumerate(stock.gears):
            use, teeth = made.gear.use, made.gear.teeth
            look = looks.get((made.gear.kind, teeth, made.toothing))
            more = {"teeth": teeth, "turn_deg": turns[index], "look": look}
            if made.gear.kind == "ring":
                level = made.gear.level
                radius = model.radii[level]
                inside = max(radius - model.rim, 0.0)
                self._add(use, "ring", (0.0, 0.0), (level, level), radius + model.addendum, inside=inside, **more)
                continue
            spot = self._spots[use]
            self._add(use, "gear", spot.spot, (spot.level, spot.level), spot.tip, **more)
            self._add(f"hub of {use}", "hub", spot.spot, (spot.level, spot.level), hub, on=use)

    def _turns(self) -> list[float]:
        """Where tooth 0 of each gear is, so that on every line of centres a tooth meets a gap [degrees]. Wheel and
        pinion can be turned against each other on their arbor: pinions begin anew."""
        gears, found = self.stock.gears, dict[int, float]()
        seeds = [0, *(index for index, made in enumerate(gears) if made.part == "pinion"), *range(len(gears))]
        for seed in seeds:
            todo = [] if seed in found else [seed]
            found.setdefault(seed, 0.0)
            while todo:
                one = todo.pop()
                for mate in gears[one].mates:
                    if mate not in found:
                        found[mate] = self._meshed(one, mate, found[one])
                        todo.append(mate)
        return [found[index] for index in range(len(gears))]

    def _meshed(self, one: int, mate: int, turn: float) -> float:
        """With u teeth from tooth 0 to the line of centres, u + u' is half a tooth in a mesh."""
        (x, y), (to_x, to_y) = self._at(one), self._at(mate)
        line = degrees(atan2(to_y - y, to_x - x))
        mine = self.stock.gears[one].gear.teeth * (line - turn) / 360
        return line + 180 - (0.5 - mine) * 360 / self.stock.gears[mate].gear.teeth

    def _at(self, index: int) -> Point:
        made = self.stock.gears[index].gear
        return (0.0, 0.0) if made.kind == "ring" else self._spots[made.use].spot

    # -- all else ----------------------------------------------------------------------------------------------------

    def _shafts(self) -> None:
        model, stock = self.model, self.stock
        post, sleeve = stock.sizes.post_mm / 2, stock.sizes.arbor_mm / 2
        carried: dict[str, tuple[Point, tuple[int, int]]] = {}
        for arbor in stock.arbors:
            name = f"arbor of link {arbor.link}"
            at = self._spots[f"wheel of link {arbor.link}"].spot
            carried[name] = at, (arbor.bottom, arbor.top)
            self._add(name, "arbor", at, (arbor.bottom, arbor.top), sleeve)
        numbers = dict.fromkeys(range(model.count), 0)
        for ring, at in model.rollers():
            numbers[ring] += 1
            name = f"roller {numbers[ring]} of ring {ring}"
            carried[name] = at, (ring, ring)
            self._add(name, "roller", at, (ring, ring), model.roller)
        carried |= {use: (gear.spot, (gear.level, gear.level)) for use, gear in self._spots.items()}
        for rod in stock.posts:
            at, levels = carried[rod.carries]
            self._add(f"post of {rod.carries}", "post", at, levels, post)
        if stock.motor_shaft_mm is not None:
            at, levels = carried["motor pinion"]
            self._add("motor's shaft", "shaft", at, levels, post)
            self._add(
                drive_name(stock.design),
                "motor",
                at,
                levels,
                max(2.5 * sleeve, 0.7 * self._spots["motor pinion"].radius),
            )

    def _bodies(self) -> None:
        """Rods and bodies at the top of their ring, as in the side view of the placement."""
        model, stock = self.model, self.stock
        last = 0 if stock.design.fit.stands == "inner" else model.count - 1
        rods = {stand.body for stand in stock.stands}
        beyond = {"inner": -1, "outer": 1, "none": 0}[stock.design.fit.stands]
        for body, ring in enumerate(stock.train.seats):
            name, at = stock.design.bodies[body].name, (0.0, model.stands_at(ring))
            end = last if name in rods else ring
            if name in rods:
                on = ring_name(stock.design, stock.train, ring)
                self._add(f"rod of {name}", "rod", at, (ring, end), stock.sizes.post_mm / 2, on=on, beyond=beyond)
            radius = max(2.0 * stock.sizes.post_mm, 0.8 * model.rim)
            self._add(f"body {name}", "body", at, (ring, end), radius, says=model.names[ring], beyond=beyond)
