"""How far posts may be moved: at both ends of every slot every mesh runs, and no slot could be longer."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import pytest
from test_picture import design_of, plain, with_thirds

from solver import Design, Link, Train
from solver.design.train import LinkPlace, Placement
from solver.forms.form import sizes_of
from solver.forms.runs import STEPS_PER_MM
from solver.sheets.gears.adjust import Slot, meshes_of, most_travel_mm, posts_of, slots_of
from solver.sheets.gears.gears import form_of

EVEN = "addendum = 4.5\nrim = 6\n"  # what `new` writes for this pitch
MOTOR = "[drive]\nmotor_rpm = [2]\npinion_teeth = 8\n"


def with_even_teeth(thirds: bool) -> tuple[Design, Train]:
    if not thirds:
        design = design_of(4, EVEN + MOTOR)
        return design, plain(design, 4)
    _, train = with_thirds()
    return design_of(3, EVEN), train


def moved(
    train: Train, slots: dict[str, Slot], ways: dict[str, int], extra: float = 0.0
) -> dict[str, tuple[float, float]]:
    """Where posts stand that are each at one end of their slot, or so much beyond it."""
    found = {"": (0.0, 0.0)}
    for name, post in posts_of(train).items():
        far = {-1: -slots[name].inward_mm, 0: 0.0, 1: slots[name].outward_mm}[ways[name]] + ways[name] * extra
        turn = math.radians(post.direction_deg)
        found[name] = post.at[0] + far * math.cos(turn), post.at[1] + far * math.sin(turn)
    return found


@pytest.mark.deep
@pytest.mark.parametrize("thirds", [False, True])
def test_at_every_end_of_all_slots_every_mesh_runs(thirds: bool) -> None:
    design, train = with_even_teeth(thirds)
    sizes, form, slots = sizes_of(design), form_of(design), slots_of(design, train)
    longer = 0
    for mesh in meshes_of(design, train):
        radii = sizes.radius_mm(mesh.one.teeth) + sizes.radius_mm(mesh.other.teeth)
        for first, second in product((-1, 0, 1), repeat=2):
            ways = dict.fromkeys(slots, 0) | dict(zip(mesh.posts, (first, second)))
            at = moved(train, slots, ways)
            apart = math.dist(*(at[post] for post in mesh.posts)) - radii
            run = form.run(sizes, mesh.one, mesh.other, apart)
            assert run.within(sizes.uneven * sizes.pitch_mm), (mesh.name, apart)
            longer += abs(apart) > 0.5
    assert longer  # some slot lets a mesh go half a millimetre from its nominal distance


def test_a_slot_that_is_not_the_longest_ends_where_a_mesh_ends() -> None:
    """One step farther a mesh of the arbor, whose distances both change by the step, no longer runs."""
    design, train = with_even_teeth(False)
    design = replace(design, rings=replace(design.rings, addendum=design.rings.addendum * 2 / 3))
    sizes, form, slots = sizes_of(design), form_of(design), slots_of(design, train)
    most, shorter = most_travel_mm(design), 0
    for name, slot in slots.items():
        for way, far in ((-1, slot.inward_mm), (1, slot.outward_mm)):
            assert 0 <= far <= most + 1e-9
            if far > most - 1 / STEPS_PER_MM:
                continue
            apart = way * (far + 1.5 / STEPS_PER_MM)
            ends = {
                mesh.name: form.run(sizes, mesh.one, mesh.other, apart)
                for mesh in meshes_of(design, train)
                if name in mesh.posts
            }
            bad = {one for one, run in ends.items() if not run.within((sizes.uneven - 0.002) * sizes.pitch_mm)}
            by = slot.inward_by if way < 0 else slot.outward_by
            assert bad and bad >= {" ".join(words.split()[:3]) for words in by} and by
            shorter += 1
    assert shorter


def test_an_arbor_goes_only_where_wheel_and_pinion_both_run() -> None:
    design, train = with_even_teeth(False)
    slots = slots_of(design, train)
    for link in range(3):
        spans = [mesh.running.span for mesh in meshes_of(design, train) if f"L{link}" in mesh.posts]
        assert len(spans) == 2 and None not in spans
        assert slots[f"L{link}"].inward_mm <= min(-float(span.low_mm) for span in spans if span)
        assert slots[f"L{link}"].outward_mm <= min(float(span.high_mm) for span in spans if span)


def test_a_mesh_that_does_not_run_gets_a_round_hole() -> None:
    """Teeth this low let a pin past: there is nothing to adjust."""
    design = design_of(2, "addendum = 0.3\nrim = 6\n")
    train = plain(design, 2)
    assert all(
        mesh.running.span is None and mesh.running.nominal is not None and mesh.running.nominal.slips
        for mesh in meshes_of(design, train)
    )
    why = ("R24 with G11 slips", "R30 with G5 slips")
    assert slots_of(design, train) == {"L0": Slot(0.0, 0.0, why, why)}


def test_a_mesh_that_hunts_is_adjusted_from_jam_to_slip() -> None:
    design = design_of(2, "addendum = 1.5\nrim = 6\n")
    train = plain(design, 2)
    meshes = meshes_of(design, train)
    assert [mesh.running.even for mesh in meshes if mesh.other.teeth == 5] == [False]
    sizes, form = sizes_of(design), form_of(design)
    for mesh in meshes:
        assert mesh.running.span is not None
        for apart in (float(mesh.running.span.low_mm), float(mesh.running.span.high_mm)):
            run = form.run(sizes, mesh.one, mesh.other, apart)
            assert not run.jams and not run.slips


def test_a_train_without_places_has_no_posts() -> None:
    with pytest.raises(ValueError, match=r"fit\.directions"):
        posts_of(Train((24, 30), (0, 1), (Link("plain", 11, 5),)))
    assert posts_of(Train((24,), (0,), (), Placement(()))) == {}
    place = LinkPlace(0, 10, (10_000, 0))  # type: ignore[arg-type]
    assert posts_of(Train((24, 30), (0, 1), (Link("plain", 11, 5),), Placement((place,))))["L0"].along == (1.0, 0.0)
