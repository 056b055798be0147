"""Second proofs of designs with places: CP-SAT alone says what the search and exhaustive enumeration say, and catches a
search whose placing is broken on purpose."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np
import pytest
from commands import run
from enumerated import KINDS, kept
from random_designs import driven_backwards, random_placed_design, tied_drives
from test_blame import ROLLING

import solver.search.place.blame
import solver.search.place.placing
from solver import parse_design, solve
from solver.answer.document import ProofOutcome
from solver.answer.prove import prove
from solver.answer.solve import Unsound
from solver.search.order.listing import Lister
from solver.search.place.blame import Blame
from solver.search.place.holder import Holder
from solver.search.place.placer import Placer
from solver.search.place.placing import Fitter
from solver.search.stop import NoStop

CONFIRMED, REFUTED = ProofOutcome.CONFIRMED, ProofOutcome.REFUTED


def proofs_of(design, answer):
    return prove(design, answer.solutions, answer.front, NoStop()).proofs


def confirmed(texts) -> int:
    """Has every answer proven twice; how many of them needed places for that."""
    looked_at = 0
    for text in texts:
        design = parse_design(text)
        answer = solve(design)
        assert answer.proven, text
        proofs = proofs_of(design, answer)
        assert {one.outcome for one in proofs} == {CONFIRMED}, (text, proofs)
        looked_at += any(one.places for one in proofs)
    return looked_at


def nothing_fits(design) -> bool:
    """What CP-SAT alone says of it."""
    found = prove(design, [], None, NoStop())
    (proof,) = found.proofs
    assert (proof.outcome is REFUTED) == (found.better is not None)
    return proof.outcome is CONFIRMED


LONG = (70,)  # the search takes a minute for it


def drawn(first: int, last: int) -> list[str]:
    return [random_placed_design(seed) for seed in range(first, last) if seed not in LONG]


@pytest.mark.deep
def test_what_the_search_says_of_places_is_confirmed():
    assert confirmed(drawn(0, 10)) >= 1


@pytest.mark.deep
@pytest.mark.parametrize("first", range(10, 160, 10))
def test_what_the_search_says_of_more_designs_is_confirmed(first):
    assert confirmed(drawn(first, first + 10)) >= 1


@pytest.mark.slow
def test_what_the_search_says_of_drives_is_confirmed():
    confirmed([*driven_backwards()[:4], *tied_drives()[:2]])


@pytest.mark.deep
def test_what_the_search_says_of_more_drives_is_confirmed():
    assert confirmed([*driven_backwards()[4:], *tied_drives()[2:]]) >= 5


@pytest.mark.deep
@pytest.mark.parametrize("plate", ["none", "inner", "outer"])
@pytest.mark.parametrize("radius", [4, 8, 12])
def test_what_the_search_says_of_rollers_is_confirmed(plate, radius):
    confirmed(ROLLING.format(plate=plate, stands=stands, radius=radius) for stands in ("none", "outer"))


def agree(kinds) -> None:
    """CP-SAT alone finds something exactly where enumeration over teeth and places does."""
    seen = set()
    for kind, numbers in kinds:
        for number in numbers:
            design = KINDS[kind].design(number)
            counted = kept(kind, number, design)
            if counted.many >= 0:  # else floats could not judge a distance, or too much was to be tried
                assert nothing_fits(design) == (not counted.many), (kind, number)
                seen.add(counted.many > 0)
    assert seen == {True, False}


@pytest.mark.slow
def test_cp_sat_alone_says_what_enumeration_says():
    agree([("placed", range(0, 168, 24)), ("turning", range(4)), ("inside", range(4))])


@pytest.mark.deep
def test_cp_sat_alone_says_of_more_designs_what_enumeration_says():
    agree(
        [
            ("placed", range(168)),
            ("driven", range(24)),
            ("tied", range(20)),
            ("turning", range(8)),
            ("inside", range(8)),
        ]
    )


# -- a placing that is broken on purpose -------------------------------------------------------------------------------

SMALL = """
[bodies]
set = "jupiter"
only = ["Io", "Europa", "Ganymede"]
sense = "{sense}"
[rings]
inner_teeth = 24
tooth_step = 5
tooth_pitch = 12
addendum = 3
rim = 5
[arbors]
wheel_teeth = {{min = 6, max = 13}}
pinion_teeth = {{min = 5, max = 9}}
third_gears = {thirds}
third_teeth = {{min = 5, max = 7}}
[fit]
frame = {{shape = "square", side = {side}}}
clearance = 1
plate = "{plate}"
post_radius = 1
directions = {directions}
{fit}
[search]
max_error_pct = 60
keep = 1
{more}
"""


def small(sense="either", thirds=0, side=260, plate="none", directions=8, fit="", more="") -> str:
    return SMALL.format(sense=sense, thirds=thirds, side=side, plate=plate, directions=directions, fit=fit, more=more)


def _no_direction(patch, best):
    """The places in the direction of the best train's first link are lost."""
    lost, of = best.links[0].arbor.direction_deg, Placer._found

    def fewer(self, shape, levels):
        places = of(self, shape, levels)
        return places.only(np.array([float(one) != lost for one in places.directions], bool))

    patch.setattr(Placer, "_found", fewer)


def _no_side(patch, best):
    """Third gears stand on the left alone."""
    of = Placer._sides
    patch.setattr(Placer, "_sides", lambda self, shape: list(of(self, shape))[:1])


def _train_refused(patch, best):
    wheels, of = [link.wheel for link in best.links], Fitter.placement

    def fewer(self, train, radii, motors=None):
        return None if [link.wheel for link in train.links] == wheels else of(self, train, radii, motors)

    patch.setattr(Fitter, "placement", fewer)


def _table_too_strict(patch, best):
    """What is not meant to touch is kept thirty millimetres farther apart than it must be."""
    for module in (solver.search.place.placing, solver.search.place.blame):
        of = module.compatible

        def stricter(measures, one, other, of=of):
            wider = copy(measures)
            wider.clearance, wider._known = measures.clearance + 30, {}
            return of(wider, one, other)

        patch.setattr(module, "compatible", stricter)


def _blamed_too_soon(patch, best):
    """Whoever has no place with the first third gears is said to have none with any."""
    patch.setattr(Blame, "culprits", lambda self, things: [tuple(range(len(things)))])


def _rings_given_up(patch, best):
    rings = tuple((ring.teeth,) for ring in best.rings)
    patch.setattr(Lister, "gone", lambda self, what: what.rings == rings)


def _no_rollers(patch, best):
    patch.setattr(Holder, "possible", lambda self, stack, tick: False)


def _frame_too_narrow(patch, best):
    least, of = max(link.wheel for link in best.links), Placer.arbor_fits
    patch.setattr(
        Placer,
        "arbor_fits",
        lambda self, shape: max(side.gear for side in shape.sides) < least and of(self, shape),
    )


def _no_motor(patch, best):
    """The best train's motor has no room."""
    pinion, of = best.drive.pinion, Fitter.with_room
    patch.setattr(
        Fitter,
        "with_room",
        lambda self, train, motors: (one for one in of(self, train, motors) if one.pinion != pinion),
    )


DRIVE = 'rank = ["envelope"]\n[drive]\nmotor_rpm = [2]\npinion_teeth = [5]'
ROLL = "rollers = {count = 3, radius = 4, reach = 60}"
FAULTS = [
    (_no_direction, {"sense": "same", "side": 240, "directions": 2}),
    (_no_side, {"thirds": 2, "side": 200, "plate": "inner", "directions": [10, 200]}),
    (_train_refused, {}),
    (_train_refused, {"plate": "inner"}),
    (_table_too_strict, {"directions": [10, 60]}),
    (_blamed_too_soon, {"thirds": 2, "side": 240, "plate": "inner", "directions": 3}),
    (_rings_given_up, {}),
    (_no_rollers, {"fit": ROLL}),
    (_frame_too_narrow, {"thirds": 2, "side": 240, "directions": 3}),
    (_no_motor, {"more": DRIVE, "thirds": 2, "side": 240, "sense": "reverse", "directions": 4}),
]


@pytest.mark.deep
@pytest.mark.parametrize(("fault", "changes"), FAULTS, ids=[fault.__name__[1:] for fault, _ in FAULTS])
def test_a_fault_of_placing_is_caught(fault, changes, monkeypatch):
    design = parse_design(small(**changes))
    sound = solve(design)
    assert sound.solutions and {one.outcome for one in proofs_of(design, sound)} == {CONFIRMED}
    fault(monkeypatch, sound.solutions[0])
    answer = solve(design)
    assert answer.to_json().split('"report"')[0] != sound.to_json().split('"report"')[0], "the fault changes nothing"
    found = prove(design, answer.solutions, answer.front, NoStop())
    assert found.proofs[-1].outcome is REFUTED and found.proofs[-1].places
    with pytest.raises(Unsound):
        solve(replace(design, prove=True))


@pytest.mark.deep
def test_the_command_tells_what_placing_has_missed(monkeypatch, tmp_path):
    text = small(side=240)
    (tmp_path / "small.toml").write_text(text)
    code, told, _ = run("prove", "small.toml", cwd=tmp_path)
    assert code == 0 and told.count("confirmed by") == 2
    (tmp_path / "none.toml").write_text(random_placed_design(270))
    code, none, _ = run("prove", "none.toml", cwd=tmp_path)
    assert code == 0 and none.startswith("nothing fits, of ") and "(with places; " in none
    _train_refused(monkeypatch, solve(parse_design(text)).solutions[0])
    code, told, _ = run("prove", "small.toml", cwd=tmp_path)
    assert code == 1 and "refuted" in told and "this one is better, and the judge passes it" in told
