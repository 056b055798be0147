"""Forces against what can be had without them: work in small steps, forces in balance, gears pushed tooth by tooth."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from math import cos, hypot, lcm, pi, radians, sin

import numpy as np
import pytest

from solver import Train
from solver.design.kinematics import ring_ratios
from solver.design.train import DrivePlace, Link, LinkPlace, Placement
from solver.forces.friction import edge_nmm, normals_n, on_rollers_nmm
from solver.forces.held import Strengths, held_rings, rim_n, solder_n, speed_for
from solver.forces.model import LoadedModel, RingLoad
from solver.forces.power import lost, powers
from solver.forces.shafts import ARBOR, RING, path, ring_label, shaft_index, shafts_of
from solver.forces.slack import BAD, FAIR, GOOD, UNKNOWN, MeshPlay, ring_plays
from solver.mechanics.metals import newtons

MODULE = 4.0
NOWHERE = LinkPlace(Fraction(0), 0, (0, 0))


def train_of(ring: int | None, thirds: tuple[int, ...] = ()) -> Train:
    """Three rings, the second link with a third gear, so that ring 2 turns the other way; driven at a ring."""
    links = (Link("plain", 12, 6), Link("third-wheel", 9, 10, (7,)))
    drive = None if ring is None else DrivePlace(ring, Fraction(2), 8, thirds, NOWHERE)
    return Train((24, 30, 36), (0, 1, 2), links, Placement((NOWHERE, NOWHERE), (), drive))


CASES = [(ring, thirds) for ring in (0, 1, 2) for thirds in ((), (9,))]


def model_of(train: Train, moments: tuple[float, ...], friction: float = 0.0, efficiency: float = 1.0) -> LoadedModel:
    shafts = shafts_of(train)
    rings = tuple(RingLoad(ring, "body", 50.0, 30.0, 100.0, moment, friction) for ring, moment in enumerate(moments))
    own = tuple(friction if one.kind == RING else friction / 10 if one.kind == ARBOR else 0.0 for one in shafts)
    return LoadedModel(shafts, rings, own, efficiency, True)


# -- shafts ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_rates_of_rings_are_the_ratios_of_their_periods(ring: int, thirds: tuple[int, ...]) -> None:
    train = train_of(ring, thirds)
    shafts, ratios = shafts_of(train), ring_ratios(train)
    rates = [shafts[shaft_index(shafts, RING, one)].rate for one in range(3)]
    assert [rates[0] / rate for rate in rates] == [ratios[0], ratios[1], -ratios[2]]
    assert rates[0] > 0 and shafts[0].speed == 1
    assert abs(rates[ring]) == Fraction(8, train.rings[ring])


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_teeth_pass_every_mesh_at_one_rate_and_turn_about(ring: int, thirds: tuple[int, ...]) -> None:
    shafts = shafts_of(train_of(ring, thirds))
    for shaft in shafts[1:]:
        before = shafts[shaft.parent]
        assert shaft.rate * shaft.teeth == -before.rate * shaft.parent_teeth
    assert len(shafts) == 3 + 2 + 1 + 1 + len(thirds)
    assert len({shaft.name for shaft in shafts}) == len(shafts)


def test_without_a_drive_ring_0_is_the_root_and_any_ring_can_be() -> None:
    train = train_of(None)
    assert shafts_of(train)[0].name == ring_label(0)
    driven = shafts_of(train_of(1, (9,)), 2)
    assert driven[0].name == ring_label(2) and not {"M", "Mt"} & {shaft.name for shaft in driven}
    assert abs(driven[shaft_index(driven, RING, 0)].rate) == ring_ratios(train)[2]


# -- moments ---------------------------------------------------------------------------------------------------------


def turned_by_hand(train: Train, ring: int, turns: float) -> list[float]:
    """Where rings stand after so many turns of the motor [radians], ring 0 counterclockwise, from the periods alone."""
    ratios = ring_ratios(train)
    of_driven = turns * 8 / train.rings[ring]
    return [2 * pi * of_driven * float(ratios[ring] / ratios[one]) * (-1 if one == 2 else 1) for one in range(3)]


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_the_moment_at_the_motor_is_the_work_of_lifting_in_small_steps(ring: int, thirds: tuple[int, ...]) -> None:
    """Virtual work: without losses dE = M d(angle), E the height energy of all bodies, straight up at first."""
    train, moments = train_of(ring, thirds), (3.0, 7.0, 5.0)
    model, step = model_of(train, moments), 1e-6

    def energy(turns: float) -> float:  # [N mm]
        angles = turned_by_hand(train, ring, turns)
        return sum(moment * sin(pi / 2 + angle) for moment, angle in zip(moments, angles, strict=True))

    for turns in np.linspace(0, 11, 37):
        work = (energy(turns + step) - energy(turns - step)) / (2 * pi * 2 * step)
        assert float(model.at(np.array(turns))) == pytest.approx(work, abs=1e-6)


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_energy_is_kept_over_a_whole_round(ring: int, thirds: tuple[int, ...]) -> None:
    """When all bodies are back, what went in at the motor is what friction and meshes took, counted apart."""
    train, friction, efficiency = train_of(ring, thirds), 0.4, 0.85
    model = model_of(train, (3.0, 7.0, 5.0), friction, efficiency)
    rates = [shaft.rate for shaft in model.shafts if shaft.kind == RING]
    turns = np.linspace(0, lcm(*(rate.denominator for rate in rates)), 200_001)
    way = float(turns[-1]) * 2 * pi

    def over_all(moments: np.ndarray) -> float:
        return float(moments[:-1].mean())

    brought = over_all(model.at(turns)) * way
    rubbed = way * sum(own * float(one.speed) for own, one in zip(model.friction_nmm, model.shafts, strict=True))
    own: list[np.ndarray | float] = list(model.friction_nmm)
    for load in model.rings:
        index = shaft_index(model.shafts, RING, load.ring)
        angles = np.array([turned_by_hand(train, ring, 1.0)[load.ring]]) * turns
        own[index] = own[index] + load.moment_nmm * np.cos(pi / 2 + angles) * np.sign(angles[-1])
    in_meshes = over_all(lost(model.shafts, powers(model.shafts, own, efficiency), efficiency)) * way
    assert in_meshes > 0
    assert brought == pytest.approx(rubbed + in_meshes, rel=1e-6)


def chained(train: Train, ring: int, needs: list[float], arbor: float, efficiency: float) -> float:
    """The moment at a motor on a ring, walked from both ends of the train to that ring: `needs` of each ring, `arbor`
    of each arbor; a third gear is one more mesh."""
    ratios = ring_ratios(train)
    speeds = [float(ratios[ring] / ratio) for ratio in ratios]

    def through(work: float) -> float:
        return work / efficiency if work >= 0 else work * efficiency

    def side(order: range) -> float:
        work = 0.0
        for one in order:
            work += needs[one] * speeds[one]
            inner = one if one < ring else one - 1
            link = train.links[inner]
            before, after = (1 + len(link.thirds), 1) if one < ring else (1, 1 + len(link.thirds))
            for _ in range(before):
                work = through(work)
            work += arbor * speeds[inner] * train.rings[inner] / link.wheel
            for _ in range(after):
                work = through(work)
        return work

    inside, outside = side(range(ring)), side(range(len(train.rings) - 1, ring, -1))
    return through(needs[ring] + inside + outside) * 8 / train.rings[ring]


@pytest.mark.parametrize("ring", [0, 1, 2])
def test_losses_go_the_way_that_power_flows(ring: int) -> None:
    """Against a walk along the chain of rings, whatever each ring needs or gives."""
    train, rng = train_of(ring), random.Random(ring)
    model = model_of(train, (0.0, 0.0, 0.0), 1.0, 0.8)
    for _ in range(50):
        needs = [rng.uniform(-9, 9) for _ in range(3)]
        own = [
            needs[one.number] if one.kind == RING else 0.1 if one.kind == ARBOR else 0.0 for one in model.shafts
        ]  # fmt: skip
        assert float(powers(model.shafts, own, 0.8)[0]) == pytest.approx(chained(train, ring, needs, 0.1, 0.8))


def test_no_position_needs_more_than_the_bound_or_less_and_some_come_near() -> None:
    model = model_of(train_of(1), (3.0, 7.0, 5.0), 0.4, 0.85)
    found = model.at(np.linspace(0, 5000, 400_000))
    assert found.max() <= model.most_nmm + 1e-9 and found.min() >= model.least_nmm - 1e-9
    assert found.max() > 0.98 * model.most_nmm
    assert model.least_nmm < 0 < model.friction_alone_nmm < model.most_nmm


def test_a_turn_of_a_ring_begins_and_ends_with_its_body_straight_up() -> None:
    model = model_of(train_of(0), (0.0, 0.0, 5.0))
    span = model.turn_of(2)
    assert span.turns[-1] == pytest.approx(float(1 / model.ring_shaft(2).speed))
    assert span.moment_nmm[0] == pytest.approx(0, abs=1e-9) and span.moment_nmm[-1] == pytest.approx(0, abs=1e-9)
    assert span.moment_nmm.max() == pytest.approx(5 * float(model.ring_shaft(2).speed), rel=1e-3)


def test_on_a_table_nothing_is_lifted() -> None:
    model = replace(model_of(train_of(1), (3.0, 7.0, 5.0), 0.4, 0.85), upright=False)
    assert set(model.at(np.linspace(0, 3, 50))) == {model.friction_alone_nmm} == {model.most_nmm}


# -- a ring with its body --------------------------------------------------------------------------------------------


def test_ring_body_and_counterweight_have_no_moment_in_any_position() -> None:
    """Summed over many points of mass: a ring alone has none, with a body moment_nmm, with what balances it none."""
    at, opposite = 120.0, 80.0
    load = RingLoad(0, "body", 0.0, 30.0, at, newtons(30.0) * at, 0.0)
    points = [(1.0, 110.0, 2 * pi * n / 360) for n in range(360)]  # grams, radius, angle
    weight = load.counterweight_grams(opposite)

    def moment(some: list[tuple[float, float, float]], turned: float) -> float:
        return sum(newtons(grams) * radius * cos(angle + turned) for grams, radius, angle in some)

    turns = [2 * pi * n / 17 for n in range(17)]
    body, balance = (30.0, at, 0.0), (weight, opposite, pi)
    assert max(abs(moment(points, turn)) for turn in turns) < 1e-9
    assert moment([*points, body], 0.0) == pytest.approx(load.moment_nmm)
    assert max(abs(moment([*points, body, balance], turn)) for turn in turns) < 1e-9
    assert weight == pytest.approx(45.0)


@pytest.mark.parametrize(("moment", "friction"), [(40.0, 10.0), (40.0, 39.0), (12.0, 0.5)])
def test_a_body_flops_where_it_pulls_more_than_friction_holds(moment: float, friction: float) -> None:
    """Turned past straight up in hundredths of a degree, until it runs ahead."""
    load = RingLoad(0, "body", 50.0, 30.0, 100.0, moment, friction)
    past = next(n / 100 for n in range(9001) if -moment * cos(radians(90 + n / 100)) > friction)
    assert load.flops_from_deg == pytest.approx(past, abs=0.011)


def test_friction_may_hold_a_body_everywhere() -> None:
    assert RingLoad(0, "body", 50.0, 30.0, 100.0, 9.0, 9.0).flops_from_deg is None


# -- friction --------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "directions", [(45.0, 135.0, 270.0), (10.0, 100.0, 190.0, 280.0), (60.0, 175.0, 300.0), (90.0, 210.0, 330.0)]
)
def test_rollers_push_up_with_the_weight_of_the_ring(directions: tuple[float, ...]) -> None:
    """Forces in balance: along the radii, upwards the weight, sideways nothing, all pushing."""
    found = normals_n(7.0, directions)
    assert sum(force * sin(radians(directions[n])) for n, force in found.items()) == pytest.approx(7.0)
    assert sum(force * cos(radians(directions[n])) for n, force in found.items()) == pytest.approx(0, abs=1e-12)
    assert min(found.values()) > 0


def test_no_rollers_above_carry_nothing() -> None:
    with pytest.raises(ValueError, match="half a turn"):
        normals_n(1.0, (0.0, 180.0, 270.0))
    with pytest.raises(ValueError, match="half a turn"):
        normals_n(1.0, (200.0, 300.0))


def test_rollers_take_the_work_that_their_stubs_rub_away() -> None:
    """Virtual work: the ring's edge and the roller's rim go equally far, the stub rubs on its own smaller circle."""
    mu, normal, axle, roller, ring, step = 0.2, 3.0, 1.5, 6.0, 100.0, 1e-3
    rubbed = mu * normal * axle * (step * ring / roller)  # force * way on the stub
    assert on_rollers_nmm(mu, normal, axle, roller, ring) * step == pytest.approx(rubbed)
    assert on_rollers_nmm(mu, normal, axle, roller, ring) < edge_nmm(mu, normal, ring)


# -- play ------------------------------------------------------------------------------------------------------------


def pushed(train: Train, ring: int, plays: dict[int, MeshPlay | None], way: int) -> float:
    """How far [degrees] a ring goes one way until the motor would move: every gear stands in the middle of its play,
    and is pushed on as soon as flanks touch, in small steps."""
    shafts = shafts_of(train)
    chain = path(shafts, shaft_index(shafts, RING, ring))
    angles = dict.fromkeys(chain, 0.0)
    step = radians(0.002) * way
    while True:
        angles[chain[0]] += step
        for near, far in pairwise(chain):
            play = plays[near]
            assert play is not None
            radii = MODULE * shafts[near].teeth / 2, MODULE * shafts[near].parent_teeth / 2
            apart = radii[0] * angles[near] + radii[1] * angles[far]  # of the pitch circles, which go opposite ways
            over = abs(apart) - play.least_mm / 2
            if over <= 1e-12:
                break
            if far == 0:
                return angles[chain[0]] / radians(1)
            angles[far] -= over / radii[1] * (1 if apart > 0 else -1)


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_play_adds_up_as_gears_push_each_other(ring: int, thirds: tuple[int, ...]) -> None:
    train, rng = train_of(ring, thirds), random.Random(7)
    shafts = shafts_of(train)
    plays = {index: MeshPlay(rng.uniform(0.2, 1.5), 2.0) for index in range(1, len(shafts))}
    for found in ring_plays(shafts, plays, MODULE):
        whole = pushed(train, found.ring, dict(plays), 1) - pushed(train, found.ring, dict(plays), -1)
        assert found.least_deg == pytest.approx(whole, abs=0.01)
        assert found.most_deg is not None and found.least_deg is not None and found.most_deg > found.least_deg


def test_verdicts_and_what_is_not_known() -> None:
    shafts = shafts_of(train_of(0))
    plays: dict[int, MeshPlay | None] = {index: MeshPlay(0.5, 0.5) for index in range(1, len(shafts))}
    near, far = ring_plays(shafts, plays, MODULE)[::2]
    assert near.most_deg is not None and far.most_deg is not None
    assert near.most_deg == pytest.approx(0.5 / 48 * 180 / pi) and near.worst == ("M", "ring 0")
    assert [near.verdict(*ends) for ends in ((1, 2), (0.5, 1), (0.1, 0.5))] == [GOOD, FAIR, BAD]
    plays[shaft_index(shafts, ARBOR, 1)] = plays[len(shafts) - 1] = None
    assert ring_plays(shafts, plays, MODULE)[2].verdict(1, 2) == UNKNOWN
    jammed = {index: MeshPlay(-0.1, -0.1) for index in range(1, len(shafts))}
    assert ring_plays(shafts, jammed, MODULE)[0].most_deg == 0


# -- a hand ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_a_held_ring_is_pushed_with_the_work_of_the_motor(ring: int, thirds: tuple[int, ...]) -> None:
    """Virtual work: moment * small turn of the motor = force * way of the ring's pitch circle."""
    train, moment, step = train_of(ring, thirds), 500.0, 1e-6
    for one in held_rings(shafts_of(train), moment, MODULE, Strengths(None, None, None)):
        radius = MODULE * train.rings[one.ring] / 2
        way = abs(turned_by_hand(train, ring, step)[one.ring]) * radius
        assert one.rim_n * way == pytest.approx(moment * 2 * pi * step)
        assert one.first is None


def test_the_weakest_place_is_told() -> None:
    train = train_of(2)
    shafts = shafts_of(train)
    weak = held_rings(shafts, 500.0, MODULE, Strengths(1.0, 1e9, 1e9))[0].first
    assert weak is not None and weak.what.startswith("a tooth or pin")
    way = [shafts[n] for n in path(shafts, shaft_index(shafts, RING, 0))[:-1]]
    forces = [500 / float(one.speed) / (MODULE * one.teeth / 2) for one in way]
    assert weak.share == pytest.approx(max(forces))
    screw = held_rings(shafts, 500.0, MODULE, Strengths(1e9, 10.0, 1e9))[0].first
    assert screw is not None and screw.what.startswith("the set screw") and screw.share > 1


def test_a_hand_that_pushes_more_than_the_motor_counts() -> None:
    shafts, strengths = shafts_of(train_of(0)), Strengths(10.0, None, None)
    by_motor, by_hand = (held_rings(shafts, 1.0, MODULE, strengths, hand)[2] for hand in (0.0, 20.0))
    assert by_motor.rim_n == by_hand.rim_n == pytest.approx(rim_n(shafts[shaft_index(shafts, RING, 2)], 1.0, 72.0))
    assert by_motor.first is not None and by_hand.first is not None
    assert by_hand.first.share == pytest.approx(by_motor.first.share * 20 / by_motor.rim_n)


def test_solder_is_loaded_far_below_what_tears_it() -> None:
    """Manko, Solders and Soldering, table 5-3: 63/37 shears at 5400 psi = 37 MPa; a tenth of it is taken."""
    assert solder_n(10.0) == pytest.approx(5400 * 0.006894757 * 10 / 10, rel=0.01)


# -- speed -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("ring", "thirds"), CASES)
def test_at_the_exact_speed_a_body_takes_the_wished_time(ring: int, thirds: tuple[int, ...]) -> None:
    train, seconds = train_of(ring, thirds), Fraction(40)
    for one in range(3):
        rpm = speed_for(shafts_of(train), one, seconds)
        assert isinstance(rpm, Fraction)
        turned = turned_by_hand(train, ring, float(rpm * seconds / 60))[one]
        assert abs(turned) == pytest.approx(2 * pi)


def test_forces_of_two_rollers_by_hand() -> None:
    """At 45 degrees each way both press with W / sqrt 2."""
    assert list(normals_n(1.0, (45.0, 135.0, 270.0)).values()) == pytest.approx([1 / hypot(1, 1)] * 2)
