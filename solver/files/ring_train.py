"""Reads a ring train: what its file limits, where its gears stand, and the design that it competes in.

A limit that the file does not state is none: where a design would fall back on a default, the train's own teeth are
allowed. Lengths that are not given are taken as in a design, and said to be.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from copy import deepcopy
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

from solver.design.design import Design, Drive, Rings, Rollers
from solver.design.errors import show, single, so_many, suggestion
from solver.design.geometry import mm_in
from solver.design.kinematics import ring_ratios
from solver.design.links import KIND_BY_NAME
from solver.design.train import Link, Train
from solver.design.train_data import MOST_RATIO, Broken, Motor, RingTrain, Stand
from solver.files.bodies import bodies_of
from solver.files.body_sets import body_sets
from solver.files.load import design_from_data
from solver.files.schema import RingsTable
from solver.files.tables import refuse_rings_told_twice
from solver.files.train_schema import DriveEntry, LinkEntry, RingTrainFile, RingTrainTable, StandEntry
from solver.words.shown import seen

NO_LIMIT = Fraction(10**60)
MEANT = Fraction(1, 200)  # degrees: a direction that is as near is meant to be that of fit.directions

Data = dict[str, Any]


def ring_train(file: RingTrainFile, source: Data, name: str) -> RingTrain:
    """A file's ring train; source: the file's data without [train]. Raises DesignError."""
    table = file.train
    count = len(table.rings)
    _refuse_misfits(table, count)
    links = tuple(_link(entry, f"train.links[{index}]") for index, entry in enumerate(table.links))
    bodies, riders, notes = _riding(file, source) if file.bodies is not None else _stand_ins(table, count)
    train = Train(tuple(table.rings), riders, links)
    _refuse_absurd(train)
    refuse_rings_told_twice(file.rings)
    design = design_from_data(_stated_limits(source, bodies, train, table.drive), name)
    if file.fit.stands == "inner":
        design = replace(design, fit=replace(design.fit, stands="inner"))
    on = dict(zip(riders, design.bodies, strict=True))
    if file.bodies is not None:
        names = tuple(on[ring].name if ring in on else "" for ring in range(count))
    else:
        names, ratios = tuple(table.bodies or [""] * count), ring_ratios(train)
        own = (replace(body, low=ratios[ring], high=ratios[ring], sense="either") for ring, body in on.items())
        design = replace(design, bodies=tuple(own))
    rings, broken = _ring_limits(file.rings, train, design.rings, count - len(design.bodies))
    limits = design.limits
    if "max_error_pct" not in file.search.model_fields_set:
        limits = replace(limits, max_error=NO_LIMIT)
    design = replace(design, rings=rings, limits=limits)
    stands = _stands(table, links, design)
    motor = _motor(table, count, design, stands is not None)
    if motor is not None and design.drive is None:
        free = Drive((motor.rpm,), (motor.pinion,), len(motor.thirds), True, "any", None)
        design = replace(design, drive=free)
    rollers = _rollers(table, design.fit.rollers, stands is not None)
    if rollers is not None and file.fit.rollers is not None and "count" not in file.fit.rollers.model_fields_set:
        design = _with_roller_counts(design, rollers)
    return RingTrain(
        name=name,
        design=design,
        train=train,
        names=names,
        compared=file.bodies is not None,
        directions_stated=file.fit.directions not in (None, "none"),
        stands=stands,
        rollers=rollers,
        motor=motor,
        ratios=tuple(entry.ratio for entry in table.links),
        states=tuple(table.states or [None] * count),
        broken=tuple(broken),
        notes=(*_taken_lengths(file, design), *notes),
        source=_with_bodies(source, bodies),
    )


def _refuse_misfits(table: RingTrainTable, count: int) -> None:
    """Refuse lists that are not as long as so many rings ask for, and a body on two rings."""
    if count < 2:
        raise single("train.rings", table.rings, "a train has at least 2 rings")
    if len(table.links) != count - 1:
        there = f"there {'is' if len(table.links) == 1 else 'are'} {len(table.links)}"
        raise single("train.links", None, f"{count} rings need {so_many(count - 1, 'link')}; {there}")
    for key, what in (("bodies", "name"), ("states", "number")):
        entries = getattr(table, key)
        if entries is not None and len(entries) != count:
            allowed = f'has {so_many(len(entries), what)} for {count} rings; give each ring one, "" for none'
            raise single(f"train.{key}", None, allowed)
    labels = table.bodies or []
    for index, label in enumerate(labels):
        if label and seen(label).casefold() in [seen(before).casefold() for before in labels[:index]]:
            raise single(f"train.bodies[{index}]", label, "rides on another ring already")


def _link(entry: LinkEntry, path: str) -> Link:
    """A link with its kind, which goes without saying where its third gears leave no doubt."""
    thirds, kind = tuple(entry.thirds), entry.kind
    if kind is None:
        if len(thirds) > 2:
            raise single(f"{path}.thirds", thirds, "a link has at most one third gear on either side: two in all")
        if len(thirds) == 1:
            allowed = (
                'is missing: with one third gear say where it stands, "third-wheel" (between ring and wheel) or '
                '"third-pinion" (between pinion and the next ring)'
            )
            raise single(f"{path}.kind", None, allowed)
        kind = "third-both" if thirds else "plain"
    elif kind not in KIND_BY_NAME:
        near = suggestion(kind, KIND_BY_NAME) or "; the kinds are " + ", ".join(KIND_BY_NAME)
        raise single(f"{path}.kind", kind, f"is no kind of link{near}")
    due = KIND_BY_NAME[kind].thirds
    if len(thirds) != due:
        allowed = f"a link of kind {kind} has {so_many(due, 'third gear')}, not {len(thirds)}"
        raise single(f"{path}.thirds", thirds, allowed)
    return Link(kind, entry.wheel, entry.pinion, thirds)


def _refuse_absurd(train: Train) -> None:
    for index, ratio in enumerate(ring_ratios(train)):
        if not Fraction(1, MOST_RATIO) <= ratio <= MOST_RATIO:
            allowed = f"turns the ring beyond it more than 10^{len(str(MOST_RATIO)) - 1} times as slowly or as fast"
            raise single(f"train.links[{index - 1}]", None, f"{allowed} as ring 0; that is no orrery")


def _stand_ins(table: RingTrainTable, count: int) -> tuple[Data, tuple[int, ...], list[str]]:
    """Without bodies to compare with: a table [bodies] for the rings that are named, or for all; their rings, and what
    to say about it."""
    labels = table.bodies
    riders, names = tuple(range(count)), [f"ring {ring}" for ring in range(count)]
    if labels and labels[0] and labels[-1]:
        riders = tuple(ring for ring in riders if labels[ring])
        names = [labels[ring] for ring in riders]
    bodies = {"list": [{"name": name, "period": index + 1} for index, name in enumerate(names)]}
    return bodies, riders, ["the file has no [bodies]: there is nothing to compare the ratios with"]


def _riding(file: RingTrainFile, source: Data) -> tuple[Data, tuple[int, ...], list[str]]:
    """The file's table [bodies] cut down to the bodies that ride, their rings, and what to say about it."""
    assert file.bodies is not None
    labels, count = file.train.bodies, len(file.train.rings)
    bodies = [body.name for body in bodies_of(file.bodies)]
    if labels is None:
        if len(bodies) != count:
            allowed = f'is missing: {len(bodies)} bodies on {count} rings; name the body of each ring, "" for none'
            raise single("train.bodies", None, allowed)
        return source["bodies"], tuple(range(count)), []
    for index, label in enumerate(labels):
        if label and label not in bodies:
            near = suggestion(label, bodies) or "; the bodies are " + ", ".join(bodies)
            raise single(f"train.bodies[{index}]", label, f"[bodies] has no such body{near}")
    for index in (0, count - 1):
        if not labels[index]:
            allowed = (
                "the first and the last ring carry a body: nothing needs a ring inside or beyond those. Leave this "
                "ring and its link out, or leave out [bodies] and see ratios and places alone"
            )
            raise single(f"train.bodies[{index}]", "", allowed)
    riding = [(bodies.index(label), ring) for ring, label in enumerate(labels) if label]
    for (inner, _), (outer, ring) in pairwise(riding):
        if outer < inner:
            allowed = f"rides outside {show(bodies[inner])} and has the shorter period; bodies stand innermost first"
            raise single(f"train.bodies[{ring}]", bodies[outer], allowed)
    left_out = [body for body in bodies if body not in labels]
    notes = [f"on no ring, and left out: {', '.join(left_out)}"] if left_out else []
    return _only(source["bodies"], labels), tuple(ring for _, ring in riding), notes


def _only(table: Data, named: Sequence[str]) -> Data:
    """The table [bodies] with these bodies alone."""
    kept = dict(table)
    if "set" in kept:
        periods = [name for name, _ in body_sets()[kept["set"]].periods]
        kept["only"] = [name for name in kept.get("only", periods) if name in named]
        if not kept["only"]:
            del kept["set"], kept["only"]
    if "list" in kept:
        kept["list"] = [entry for entry in kept["list"] if entry["name"] in named]
    return kept


def _with_bodies(source: Data, bodies: Data) -> Data:
    return {**deepcopy(source), "bodies": deepcopy(bodies)}


def _stated_limits(source: Data, bodies: Data, train: Train, drive: DriveEntry | None) -> Data:
    """The file's data for a design that limits only what the file limits; ring teeth are looked at apart, and so are
    stands where no design may have them."""
    data = _with_bodies(source, bodies)
    if data.get("fit", {}).get("stands") == "inner":
        data["fit"]["stands"] = "outer"
    rings = data.setdefault("rings", {})
    for key in ("inner_teeth", "tooth_step", "teeth", "blanks"):
        rings.pop(key, None)
    arbors = data.setdefault("arbors", {})
    gears = small_gears(train)
    arbors.setdefault("third_gears", len(gears["third_teeth"]))
    gears["third_teeth"] += drive.thirds if drive is not None else []
    stock = arbors.get("stock")
    for key, used in gears.items():
        if key not in arbors and (used or stock):
            arbors[key] = stock or sorted(set(used))
    return data


def small_gears(train: Train) -> dict[str, list[int]]:
    """Teeth of a train's small gears, by the field of [arbors] that limits them."""
    return {
        "wheel_teeth": [link.wheel for link in train.links],
        "pinion_teeth": [link.pinion for link in train.links],
        "third_teeth": [third for link in train.links for third in link.thirds],
    }


def _ring_limits(table: RingsTable, train: Train, rings: Rings, blank: int) -> tuple[Rings, list[Broken]]:
    """The rings as the judge is to see them: limited where the file limits them, else as they are."""
    broken = []
    blanks = table.blanks
    if table.teeth is not None and len(table.teeth) != len(train.rings):
        text = f"has {len(train.rings)} rings; rings.teeth has {len(table.teeth)}"
        broken.append(Broken("step", "train", text))
    elif blanks is not None and blank not in blanks:
        allowed = " or ".join(map(str, blanks))
        broken.append(Broken("step", "train", f"has {so_many(blank, 'blank ring')}; rings.blanks is {allowed}"))
    own = tuple((z,) for z in train.rings)
    base = replace(rings, inner_teeth=(), tooth_step=(), blanks=(blank,))
    if table.teeth is not None:
        return replace(base, teeth=table.teeth if len(table.teeth) == len(own) else own), broken
    if table.tooth_step is not None:
        inner = table.inner_teeth or (train.rings[0],)
        return replace(base, inner_teeth=inner, tooth_step=table.tooth_step), broken
    return replace(base, teeth=(table.inner_teeth or own[0], *own[1:])), broken


def _stands(table: RingTrainTable, links: Sequence[Link], design: Design) -> tuple[Stand, ...] | None:
    """Where the links stand; None where the file does not say. All of them must say it, or none."""
    entries = [(f"train.links[{index}]", entry) for index, entry in enumerate(table.links)]
    if all(entry.direction is None for _, entry in entries):
        for path, entry in entries:
            _refuse_without_direction(entry, path)
        return None
    if not design.arbors.reverted:
        path = next(path for path, entry in entries if entry.direction is not None)
        raise single(f"{path}.direction", None, "needs arbors.reverted = true: without it no places are computed")
    found = []
    for (path, entry), link in zip(entries, links, strict=True):
        if entry.direction is None:
            raise single(f"{path}.direction", None, "is missing: give a direction to every link, or to none")
        kind = KIND_BY_NAME[link.kind]
        free = bool(kind.wheel_thirds and kind.pinion_thirds)
        found.append(_stand(entry, _nearest(entry.direction, design), kind.thirds, path, free))
    return tuple(found)


def _nearest(direction: Fraction, design: Design) -> Fraction:
    """The one of fit.directions that is meant: a seventh of a turn is no decimal."""
    for known in design.fit.directions or ():
        if abs(known - direction) <= MEANT:
            return known
    return direction


def _refuse_without_direction(entry: StandEntry, path: str) -> None:
    for key in ("sides", "radius_teeth"):
        if getattr(entry, key) is not None:
            raise single(f"{path}.{key}", getattr(entry, key), f"says nothing without {path}.direction")


def _stand(entry: StandEntry, direction: Fraction, thirds: int, path: str, free: bool) -> Stand:
    """free: whether the teeth leave the arbor a choice of distances from the main axis."""
    sides = entry.sides or []
    if len(sides) != thirds:
        allowed = (
            f'give "left" or "right" for each third gear ({thirds}); seen from the main axis, left is counterclockwise '
            "of the arbor"
        )
        missing = "is missing: " if entry.sides is None else ""
        raise single(f"{path}.sides", entry.sides, missing + (allowed if thirds else "there are no third gears"))
    if entry.radius_teeth is not None and not free:
        allowed = "is given by the teeth; only an arbor that meets no ring directly may stand nearer or farther"
        raise single(f"{path}.radius_teeth", entry.radius_teeth, allowed)
    return Stand(direction, tuple(1 if side == "left" else -1 for side in sides), entry.radius_teeth)


def _motor(table: RingTrainTable, count: int, design: Design, placed: bool) -> Motor | None:
    entry = table.drive
    if entry is None:
        return None
    if not placed:
        raise single("train.drive", None, "needs the links' directions: without places no drive is judged")
    if entry.ring >= count:
        raise single("train.drive.ring", entry.ring, f"the rings are 0 to {count - 1}")
    if len(entry.thirds) > 1:
        raise single("train.drive.thirds", entry.thirds, "the drive has one third gear or none")
    if entry.direction is None:
        raise single("train.drive.direction", None, "is missing: say where the motor stands")
    direction = _nearest(entry.direction, design)
    stand = _stand(entry, direction, len(entry.thirds), "train.drive", bool(entry.thirds))
    return Motor(entry.ring, entry.motor_rpm, entry.pinion, tuple(entry.thirds), stand)


def _rollers(table: RingTrainTable, limits: Rollers | None, placed: bool) -> tuple[tuple[Fraction, ...], ...] | None:
    """The rollers' directions, ring by ring; limits: what the file says of rollers."""
    if table.rollers is None:
        return None
    if not placed:
        raise single("train.rollers", None, "needs the links' directions: without places no rollers are judged")
    if limits is None:
        raise single("train.rollers", None, "needs fit.rollers, which says how large they are")
    found: dict[int, tuple[Fraction, ...]] = {}
    for index, entry in enumerate(table.rollers):
        path = f"train.rollers[{index}]"
        if entry.ring >= len(table.rings):
            raise single(f"{path}.ring", entry.ring, f"the rings are 0 to {len(table.rings) - 1}")
        if entry.ring in found:
            raise single(f"{path}.ring", entry.ring, "has an entry already; write one for each ring")
        if len(set(entry.directions)) != len(entry.directions):
            raise single(f"{path}.directions", None, "names a direction twice")
        if not entry.directions:
            raise single(f"{path}.directions", None, "is empty; give the directions of the ring's rollers")
        found[entry.ring] = tuple(sorted(entry.directions))
    missing = [ring for ring in range(len(table.rings)) if ring not in found]
    if missing:
        raise single(
            "train.rollers", None, f"ring {missing[0]} has none; give every ring its rollers, or leave them all out"
        )
    return tuple(found[ring] for ring in range(len(table.rings)))


def _with_roller_counts(design: Design, directions: tuple[tuple[Fraction, ...], ...]) -> Design:
    """The design with as many rollers to a ring as there are."""
    assert design.fit.rollers is not None
    rollers = replace(design.fit.rollers, count=tuple(sorted(set(map(len, directions)))))
    return replace(design, fit=replace(design.fit, rollers=rollers))


def _taken_lengths(file: RingTrainFile, design: Design) -> Iterator[str]:
    """The lengths that the file does not give and that count."""
    if not design.arbors.reverted:
        return
    rings, fit = design.rings, design.fit
    posts, deep = fit.plate != "none" or fit.stands != "none", bool(fit.frame and fit.frame.depth)
    counting = [
        ("rings.tooth_pitch", file.rings.tooth_pitch or file.rings.module, rings.pitch.value, True),
        ("rings.addendum", file.rings.addendum, rings.addendum, True),
        ("fit.clearance", file.fit.clearance, fit.clearance, True),
        ("rings.rim", file.rings.rim, rings.rim, posts or fit.rollers is not None or design.wired),
        ("rings.level_spacing", file.rings.level_spacing, rings.level_spacing, deep or design.wired),
        ("fit.post_radius", file.fit.post_radius, fit.post_radius, posts),
    ]
    unit = mm_in(design.units)
    taken = [
        f"{field} = {float(value / unit):.4g}" for field, given, value, counts in counting if counts and given is None
    ]
    if taken:
        yield f"not given, and taken to be [{design.units}]: {', '.join(taken)}"
