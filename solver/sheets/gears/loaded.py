"""An inventory as a loaded model: what hangs on which shaft, what rubs, what play every mesh has, what parts hold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import pi

from solver.design.loads import ModelLoads
from solver.design.weights import body_grams
from solver.forces.friction import bearing_nmm, edge_nmm, normals_n, on_rollers_nmm
from solver.forces.held import Strengths, screw_hold_n, solder_n
from solver.forces.model import LoadedModel, RingLoad
from solver.forces.shafts import ARBOR, RING, THIRD, Shaft, ring_label, shafts_of
from solver.forces.slack import MeshPlay
from solver.mechanics.metals import newtons
from solver.sheets.gears.adjust import MeshInTrain, post_name
from solver.sheets.gears.gears import GearInTrain
from solver.sheets.gears.inventory import Inventory

SLIP_MARGIN = 1.5  # of a clutch that slips, over what is needed (common practice, no source)
MOTOR_MARGIN = 2.0  # of a motor over what is needed (common practice, no source)


@dataclass(frozen=True)
class ModelWeights:
    """Weights [g]: of every ring as it is made, of the bodies (20 g unless told) and of their rods, by body."""

    rings: tuple[float, ...]
    bodies: tuple[float, ...]
    rods: tuple[float, ...]


def loads_in(stock: Inventory) -> ModelLoads:
    """What the design tells of loads, or the usual ones."""
    return stock.design.loads or ModelLoads()


def weights_of(stock: Inventory) -> ModelWeights:
    """The weights of all that hangs on rings: the one place that knows from where they come."""
    bodies = tuple(float(body_grams(stock.design, index)) for index in range(len(stock.design.bodies)))
    rings = tuple(grams for made, grams in zip(stock.gears, stock.gear_grams, strict=True) if made.part == "ring")
    rods = {stand.ring: stand.grams for stand in stock.stands}
    return ModelWeights(rings, bodies, tuple(rods.get(ring, 0.0) for ring in stock.train.seats))


def untold_bodies(stock: Inventory) -> list[str]:
    """Names of the bodies whose weight the file does not tell."""
    told = dict(stock.design.weights or ())
    return [body.name for body in stock.design.bodies if body.name not in told]


def rod_at_mm(stock: Inventory, ring: int) -> float:
    """How far from the main axis the body of a ring stands: in the middle of its rim."""
    return stock.sizes.radius_mm(stock.train.rings[ring]) - stock.sizes.rim_mm / 2


def loaded_model(stock: Inventory, turned_at: int | None = None) -> LoadedModel:
    """The model as weights on shafts, with the friction of its bearings and rollers. Bearings carry weights; what
    meshes press on them belongs to the meshes' efficiency. turned_at: as of `shafts_of`."""
    loads, shafts = loads_in(stock), shafts_of(stock.train, turned_at)
    rings = tuple(_ring_loads(stock))
    grams = _small_grams(stock)
    friction = []
    for shaft in shafts:
        if shaft.kind == RING:
            friction.append(rings[shaft.number].friction_nmm)
        elif shaft.kind in (ARBOR, THIRD):
            weight = newtons(grams.get(shaft.name, 0.0))
            friction.append(bearing_nmm(float(loads.bearing_friction), weight, stock.sizes.post_mm))
        else:
            friction.append(0.0)  # the motor's own bearings are the motor's
    return LoadedModel(shafts, rings, tuple(friction), float(loads.mesh_efficiency), stock.design.hung)


def _ring_loads(stock: Inventory) -> list[RingLoad]:
    weights, at = weights_of(stock), dict(loads_in(stock).body_at)
    found = []
    for ring, ring_grams in enumerate(weights.rings):
        if ring not in stock.train.seats:
            found.append(RingLoad(ring, "", ring_grams, None, 0.0, 0.0, _ring_friction(stock, ring, ring_grams)))
            continue
        body = stock.train.seats.index(ring)
        told, rod, rod_mm = weights.bodies[body], weights.rods[body], rod_at_mm(stock, ring)
        own, own_mm = told, float(at.get(body, rod_mm))
        moment = newtons(own) * own_mm + newtons(rod) * rod_mm
        whole = ring_grams + own + rod
        name, friction = stock.design.bodies[body].name, _ring_friction(stock, ring, whole)
        found.append(RingLoad(ring, name, whole, told, own_mm, moment, friction))
    return found


def _ring_friction(stock: Inventory, ring: int, grams: float) -> float:
    """Of a ring on its rollers [N mm]; without rollers that carry it its inner edge slides on what does."""
    mu, weight = float(loads_in(stock).roller_friction), newtons(grams)
    inner = stock.sizes.radius_mm(stock.train.rings[ring]) - stock.sizes.rim_mm
    placement, rollers = stock.train.placement, stock.design.fit.rollers
    places = placement.rollers[ring] if placement is not None and placement.rollers else ()
    if rollers is None or not places:
        return edge_nmm(mu, weight, inner)
    normal = weight
    if stock.design.hung:
        try:
            normal = sum(normals_n(weight, [float(place.direction) for place in places]).values())
        except ValueError:  # rollers of a train that somebody made, all below
            return edge_nmm(mu, weight, inner)
    return on_rollers_nmm(mu, normal, stock.sizes.post_mm / 2, float(rollers.radius), inner)


def _small_grams(stock: Inventory) -> dict[str, float]:
    """Weight of what turns on each post [g], by the post's name: gears with their hubs, and arbors."""
    found = {f"L{arbor.link}": arbor.grams for arbor in stock.arbors}
    hubs = iter(stock.hubs)
    for made, grams in zip(stock.gears, stock.gear_grams, strict=True):
        if made.part != "ring":
            name = post_name(made)
            found[name] = found.get(name, 0.0) + grams + next(hubs).grams
    return found


def mesh_plays(
    stock: Inventory, shafts: Sequence[Shaft], meshes: Sequence[MeshInTrain]
) -> Mapping[int, MeshPlay | None]:
    """The play of the mesh of each shaft (index) with the one before it; None where a gear cannot be made or slips.
    meshes: as `meshes_of` has them."""
    found: dict[int, MeshPlay | None] = {}
    names = {shaft.name: index for index, shaft in enumerate(shafts)}
    pairs = [(made, stock.gears[mate]) for index, made in enumerate(stock.gears) for mate in made.mates if mate > index]
    for (one, other), mesh in zip(pairs, meshes, strict=True):
        ends = [names[name] for name in (_shaft_name(one), _shaft_name(other)) if name in names]
        if len(ends) < 2:
            continue  # of the drive, which is left out
        run = mesh.running.nominal
        found[max(ends)] = None if run is None or run.slips else MeshPlay(run.backlash, run.most)
    return found


def _shaft_name(made: GearInTrain) -> str:
    return ring_label(made.gear.level) if made.part == "ring" else post_name(made)


def strengths_of(stock: Inventory) -> Strengths:
    """What gears hold. A tooth or a pin has two joints, each as large as two wires that cross; a hub of wire has two
    joints for every spoke, one of plate is soldered all around."""
    sizes, wire = stock.sizes, stock.design.wire
    screw = wire.set_screws * screw_hold_n(stock.fittings.screw.major) * sizes.arbor_mm / 2 or None
    if stock.form.plate:
        return Strengths(None, screw, solder_n(pi * sizes.hub_mm * sizes.sheet_mm) * sizes.hub_mm / 2)
    tooth = solder_n(2 * sizes.loop_mm * min(sizes.tooth_mm, sizes.pin_mm))
    spokes = solder_n(2 * sizes.spokes * pi / 4 * sizes.pin_mm**2)
    return Strengths(tooth, screw, spokes * sizes.hub_mm / 2)
