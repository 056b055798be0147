"""The chapter on balance and play: what each ring carries, what balances it, where it flops, how much play it has."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.design.weights import USUAL_GRAMS
from solver.forces.model import LoadedModel, RingLoad
from solver.forces.slack import UNKNOWN, RingPlay, ring_plays
from solver.sheets.book.document import Block, Heading, Items, Paragraph, TextTable
from solver.sheets.gears.adjust import MeshInTrain
from solver.sheets.gears.gears import ring_name
from solver.sheets.gears.inventory import Inventory
from solver.sheets.gears.loaded import loaded_model, loads_in, mesh_plays, rod_at_mm, untold_bodies
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_NONE = "–"


def balance(stock: Inventory, meshes: Sequence[MeshInTrain], lengths: Lengths) -> Iterator[Block]:
    """The whole chapter."""
    model = loaded_model(stock)
    plays = ring_plays(model.shafts, mesh_plays(stock, model.shafts, meshes), stock.sizes.module_mm)
    yield Heading("Balance and play")
    yield from _weights(stock, model, lengths)
    if model.upright:
        yield from _flops(stock, model, plays)
    yield from _plays(stock, model, plays)


def _weights(stock: Inventory, model: LoadedModel, lengths: Lengths) -> Iterator[Block]:
    loads, riding = loads_in(stock), [load for load in model.rings if load.body]
    untold = untold_bodies(stock)
    yield Heading("What each ring carries", 2)
    if untold:
        whose = "any body" if len(untold) == len(riding) else ", ".join(untold)
        yield Paragraph(
            f"The weight of {whose} is not told (bodies.grams): {float(USUAL_GRAMS):g} g each are taken, as in the "
            "chapter on weight. Weigh them, or guess the worst, and make these sheets again: they pull most."
        )
    turning = stock.design.fit.rollers
    carried = (
        f"its rollers turn on stubs of {lengths.text(stock.sizes.post_mm)}: {float(loads.roller_friction):g} × what "
        "presses on them × radius of stub / radius of roller × radius of the ring's inner edge"
        if turning is not None
        else f"the file has no rollers, so its inner edge slides on what carries it: "
        f"{float(loads.roller_friction):g} × weight × radius of that edge"
    )
    if model.upright:
        yield Paragraph(
            "The model hangs on a wall, so a body pulls its ring about: with most moment where it stands level with "
            "the axis, with none straight up and straight down. The rings themselves are in balance. Friction is that "
            f"of each ring alone: {carried}. What balances stands opposite to the body, in the middle of the rim; at "
            "half the distance it weighs twice as much."
        )
    else:
        yield Paragraph(
            "The model stands on a table with its axis upright: no weight pulls a ring about, and nothing is to be "
            f"balanced. Friction is that of each ring alone: {carried}."
        )
    cells = [_row(stock, load, model.upright, lengths) for load in model.rings]
    heads = (
        "ring", "in all [g]", "body [g]", "its middle at", "moment [N mm]", "middle of all at", "friction [N mm]",
        "balanced by", "at",
    )  # fmt: skip
    kept = range(len(heads)) if model.upright else (0, 1, 2, 6)
    yield TextTable(
        tuple(heads[index] for index in kept),
        tuple(tuple(row[index] for index in kept) for row in cells),
        "".join("lrrrrrrrr"[index] for index in kept),
    )


def _row(stock: Inventory, load: RingLoad, upright: bool, lengths: Lengths) -> tuple[str, ...]:
    name, at = ring_name(stock.design, stock.train, load.ring), rod_at_mm(stock, load.ring)
    body = _NONE if load.body_grams is None else decimal(load.body_grams, 1)
    middle = lengths.text(load.body_at_mm, 1) if load.body else _NONE
    some = upright and load.moment_nmm > 0
    balanced = f"{load.counterweight_grams(at):.1f} g" if some else _NONE
    where = lengths.text(at, 1) if some else _NONE
    moment = f"{load.moment_nmm:.1f}" if some else _NONE
    centre = lengths.text(load.centre_mm, 1) if some else _NONE
    return (name, f"{load.grams:.0f}", body, middle, moment, centre, f"{load.friction_nmm:.1f}", balanced, where)


def _flops(stock: Inventory, model: LoadedModel, plays: Sequence[RingPlay]) -> Iterator[Block]:
    yield Heading("Where bodies flop", 2)
    yield Paragraph(
        "Past straight up a body begins to pull its ring along. Where it pulls with more than the friction of its "
        "ring, it falls ahead through its play, and lags behind again when it has to be lifted: it jumps by up to all "
        "of its play, once a turn each way. Balance it, brake its ring with a little felt, or close its meshes."
    )
    rows, held = [], []
    for load in model.rings:
        if not load.body:
            continue
        start = load.flops_from_deg
        if start is None:
            held.append(load.body)
            continue
        most = plays[load.ring].most_deg
        jump = UNKNOWN if most is None else f"{most:.1f}°"
        pull = f"{load.moment_nmm:.1f} over {load.friction_nmm:.1f}"
        rows.append((load.body, str(load.ring), pull, f"{start:.0f}°", jump))
    if rows:
        heads = ("body", "ring", "moment over friction [N mm]", "from, past straight up", "jumps by up to")
        yield TextTable(heads, tuple(rows), "lrrrr")
    if held:
        yield Paragraph(
            f"Held by the friction of their rings all round, as far as weights are told: {', '.join(held)}."
        )


def _plays(stock: Inventory, model: LoadedModel, plays: Sequence[RingPlay]) -> Iterator[Block]:
    loads = loads_in(stock)
    good, bad = float(loads.play_good_deg), float(loads.play_bad_deg)
    root = "the motor's shaft" if model.motored else "ring 0"
    root = "the crank" if loads.crank is not None and model.motored else root
    near = "the motor" if model.motored else root
    yield Heading("Play of each body", 2)
    yield Paragraph(
        f"Hold {root} and turn a ring to and fro: the play of every mesh between them adds up, each as a turn of that "
        f"ring by the exact ratios. A mesh near {near} counts as many times more as the ring turns faster than it. "
        f"Play is that at x and y, by true gears, from where teeth leave least to where they leave most. Up to "
        f"{good:g}° is good, more than {bad:g}° bad (loads.play_good_deg, play_bad_deg; common practice, no source)."
    )
    rows = []
    for one in plays:
        told = (UNKNOWN, UNKNOWN) if one.most_deg is None else (f"{one.least_deg:.2f}°", f"{one.most_deg:.2f}°")
        most_of_it = " with ".join(one.worst) if one.meshes else _NONE
        name = ring_name(stock.design, stock.train, one.ring)
        rows.append((name, str(one.meshes), *told, one.verdict(good, bad), most_of_it))
    heads = ("ring", "meshes on the way", "play, least", "most", "verdict", "most of it from")
    yield TextTable(heads, tuple(rows), "lrrrll")
    if any(one.verdict(good, bad) == "bad" for one in plays):
        yield Items(
            (
                "Less play: set meshes nearer, those first that give most; let the drive work with a ring farther in "
                "(drive.ring), so that fewer meshes lie before the fast rings; or balance the bodies, so that each "
                "ring leans on one side of its teeth all the time.",
            )
        )
