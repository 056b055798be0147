"""The order of work is walked with the shopping list: all that is bought is used, and all that is used is there."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from fractions import Fraction
from functools import cache

import pytest
from armed import SMALL, SQUARE, ten_rings
from shipped import DISCS, shipped

from solver import Design, Train, parse_design, solve
from solver.design.hardware import Hardware, LabelPlate
from solver.sheets.book.order_bench import BUY, RUN_IN, whole_order
from solver.sheets.book.shopping import ShoppingRow, shopping
from solver.sheets.book.steps import BuildStep
from solver.sheets.gears.adjust import MeshInTrain, meshes_of
from solver.sheets.gears.inventory import Inventory, inventory
from solver.sheets.stock.cuts import cut_list, joints_of
from solver.sheets.supports.made import supports_made
from solver.words.lengths import Lengths

WIRE = {
    "hall": (DISCS.stem, "", 1),
    "plate": (DISCS.stem, 'form = "cycloidal"\n', 1),
    "balls": (DISCS.stem, "", 1.5),
    "saturn-hall": ("saturn-hall", None, 0),
    "thirds": ("solar-system-1-thirds", None, 0),
}
ARMED = {  # a wall model in inches, and one on feet with a label, rods of bodies and a motor
    "ten rings": lambda: ten_rings(),
    "table": lambda: on_feet(),
}
DEEP = ("balls", "thirds", "ten rings")
NAMES = (
    "hall", "plate", "table", pytest.param("saturn-hall", marks=pytest.mark.slow),
    *(pytest.param(name, marks=pytest.mark.deep) for name in DEEP),
)  # fmt: skip


def on_feet() -> tuple[Design, Train]:
    design = parse_design(SMALL.format(frame=SQUARE, stands="outer", model="table", metal="brass"))
    return design, solve(design).trains(design)[0]


@cache
def worked(name: str) -> tuple[Inventory, tuple[MeshInTrain, ...], tuple[ShoppingRow, ...], tuple[BuildStep, ...]]:
    hardware = Hardware(label=LabelPlate(Fraction(80), Fraction(20), ""))
    if name in ARMED:
        design, train = ARMED[name]()
        design = replace(design, hardware=hardware)
        stock, lengths, supports = inventory(design, train), Lengths(design.units), supports_made(design, train)
        assert supports is not None
        made = cut_list(stock, tuple(supports.wires()))
        joints = sum(count for _, count in (*joints_of(stock, made.cuts), *supports.joints))
        rows, meshes = shopping(stock, made.plans, joints, lengths, supports), meshes_of(design, train)
        return stock, meshes, rows, whole_order(stock, lengths, meshes, rows, supports)
    base, wire, post = WIRE[name]
    design, answer = shipped(base)
    if wire is not None:
        told = parse_design(f'[bodies]\nset = "saturn"\n[fit]\npost_radius = {post}\n[wire]\n{wire}')
        fit = replace(design.fit, post_radius=told.fit.post_radius)
        design = replace(design, wire=told.wire, fit=fit)
    design, train = replace(design, hardware=hardware), answer.trains(design)[0]
    stock, lengths = inventory(design, train), Lengths(design.units)
    made = cut_list(stock)
    rows = shopping(stock, made.plans, sum(count for _, count in joints_of(stock, made.cuts)), lengths)
    meshes = meshes_of(design, train)
    return stock, meshes, rows, whole_order(stock, lengths, meshes, rows)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_bought_is_used_and_named_where_it_is(name: str) -> None:
    _, _, rows, steps = worked(name)
    assert steps[0].title == BUY
    work = [one for step in steps for one in step.work]
    for row in rows:
        (first,) = [index for index, one in enumerate(work) if row.part in one.makes]
        later = [one for one in work[first + 1 :] if row.part in (*one.uses, *one.mounts)]
        assert later, row.part
        assert any(row.part.removeprefix("body ") in one.text for one in later), row.part


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_all_that_is_used_is_there(name: str) -> None:
    _, _, _, steps = worked(name)
    there: set[str] = set()
    for step in steps:
        for one in step.work:
            assert {*one.uses, *one.mounts} <= there, (step.title, one)
            there |= set(one.makes)


@pytest.mark.deep
@pytest.mark.parametrize("name", NAMES)
def test_a_jig_is_set_up_once_and_serves_all_its_gears_then(name: str) -> None:
    stock, _, _, steps = worked(name)
    for jig in stock.jigs:
        made = [at for at, step in enumerate(steps) if set(jig.uses) & set(step.makes)]
        stood = [at for at, step in enumerate(steps) if any(one.split()[-1] == jig.name[4:] for one in step.makes)]
        assert len(made) == 1 and stood == [made[0] - 1]
        assert set(jig.uses) <= set(steps[made[0]].makes)


@pytest.mark.parametrize("name", NAMES[:-1])  # told in millimetres
def test_every_mesh_is_tried_before_it_is_put_on(name: str) -> None:
    stock, meshes, _, steps = worked(name)
    tried = [step for step in steps if step.title.startswith("Try link")]
    assert len(tried) == len(stock.train.links)
    told = {line.split(": centres")[0]: line for step in tried for line in step.lines if ": centres" in line}
    module = stock.design.rings.pitch.radius_mm(2)
    due = [mesh for mesh in meshes if not {"M", "Mt"} & set(mesh.posts) and mesh.running.nominal is not None]
    assert due or name == "plate"  # whose gears are too fine for the hall's rims, and cannot be made
    assert set(told) == {mesh.name for mesh in due}
    for mesh in due:
        line = told[mesh.name]
        apart = float(re.search(r"centres ([\d.]+)", line)[1])  # type: ignore[index]
        assert apart == pytest.approx(module * (mesh.one.teeth + mesh.other.teeth) / 2, abs=0.006)
        play = re.search(r"play (-?[\d.]+)", line)
        run = mesh.running.nominal
        assert play is not None and run is not None and float(play[1]) == pytest.approx(run.backlash, abs=0.006)
        # A millimetre nearer takes play: by twice the slope of the flanks, or the teeth jam.
        nearer = re.search(r"1\smm nearer (it \w+|the play is ([\d.]+))", line)
        assert nearer is not None and (nearer[2] is None or float(nearer[2]) < run.backlash)
    levels = [at for at, step in enumerate(steps) if step.title.startswith("Level")]
    assert max(at for at, step in enumerate(steps) if step in tried) < min(levels)


@pytest.mark.parametrize("name", NAMES)
def test_it_ends_with_running_in_and_looks_at_set_screws(name: str) -> None:
    stock, _, rows, steps = worked(name)
    assert steps[-1].title == RUN_IN
    titles = [step.title for step in steps]
    up = [titles.index(one) for one in ("Put the plate up", "Hang it") if one in titles]
    assert titles.index("Label") < min(up, default=len(titles))  # while its back can be reached
    (screw,) = [row.part for row in rows if row.what == "set screw"]
    assert screw in steps[-1].uses
    if stock.stands:
        (rods,) = [step for step in steps if step.title == "Rods of the bodies"]
        filed = any("filed" in line or "File the foot" in line for line in rods.lines)
        assert filed is any(stand.foot.outside_mm or stand.foot.inside_mm for stand in stock.stands)
    assert math.isfinite(stock.grams)


@pytest.mark.deep
@pytest.mark.parametrize(("name", "held"), [("table", "table"), ("ten rings", "wall")])
def test_what_holds_an_armed_model_is_bought(name: str, held: str) -> None:
    """Rod as long as all bars and arms together at least; a fixing for each eye, or a cap for each foot; no collars of
    arbors and no screws of posts, which arms have in their place."""
    stock, _, rows, _ = worked(name)
    made = supports_made(stock.design, stock.train)
    assert made is not None and stock.design.supports is not None and stock.design.supports.model == held
    metre = 304.8 if stock.design.units == "in" else 1000.0
    rods = [row for row in rows if row.what == "frame rod"]
    assert {row.used_for.split(",")[0] for row in rods} == {"the frame", "arms"}
    assert sum(row.needed * row.each * metre for row in rods) > sum(
        one.piece.count * one.piece.length_mm for one in made.wires()
    )
    (ends,) = [row for row in rows if row.what in ("wall fixing", "foot cap")]
    assert (ends.what, ends.needed) == (("wall fixing", 2) if held == "wall" else ("foot cap", 4))
    bushes = sum(arm.bush is not None for arm in made.arms)
    tubes = [row for row in rows if row.what == "bush tube"]
    assert bushes == len(stock.arbors) + (stock.motor_shaft_mm is not None) and tubes
    thirds = len(stock.posts) - len(stock.rollers) - len(stock.arbors)
    assert sum(row.needed for row in rows if row.what == "collar") == thirds
    assert not any(one.posts for one in stock.screws)
