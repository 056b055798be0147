"""Certificates of random small designs: accepted, and what they claim is what enumeration finds."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import brute_made
import pytest
from brute import all_trains
from random_designs import random_design
from random_made import SORTS, random_made_design
from wide import as_many

from solver import DesignError, parse_design, solve
from solver.answer.certificate.claims import best_of
from solver.answer.certificate.writing import write_certificate
from solver.check.certificate.check import check_certificate
from solver.design.design import Design
from solver.design.links import KIND_BY_NAME
from solver.design.train import Train

pytest.importorskip("pumpkin_solver")

SEEDS = range(as_many(80, 340))  # of which a few are refused
FEW = [seed for seed in SEEDS if seed % 20 == 3]


def by_teeth(design: Design) -> Design:
    """The same design where the rules that a certificate does not use leave nothing out."""
    limits = replace(design.limits, max_jigs=None, max_teeth=None, max_envelope=None, max_new_gears=None)
    return replace(design, limits=limits)


def told(train: Train) -> tuple:
    """What a certificate's exception says of a train, and the rings of its case."""
    links = tuple((Fraction(link.wheel, link.pinion), KIND_BY_NAME[link.kind].thirds) for link in train.links)
    return train.rings, train.seats, links


def agrees(seed: int, folder: Path) -> str:
    """Write, check and compare with enumeration the certificate of a random design; in a word what it was like."""
    try:
        design = parse_design(random_design(seed, wild=seed % 2 == 1))
    except DesignError:
        return "refused"  # the dice made one that a file's rules do not allow
    # The least error of all, whatever the design ranks by; jigs, teeth and envelopes still limit it.
    design = replace(design, rank=("error",), front=(), keep=1, prove=False)
    answer = solve(design)
    assert answer.proven
    best = best_of(design, answer.solutions)
    written = write_certificate(folder, design, best, 100)
    checked = check_certificate(folder)
    assert checked.claim == written.claim
    trains = [(figures["error"], told(train)) for figures, train in all_trains(by_teeth(design))]
    square, strict = Fraction(written.claim["square"]), written.claim["strict"]
    excluded = {train for error, train in trains if (error < square if strict else error <= square)}
    claim = Claims(written.claim)
    assert claim.better == excluded, seed
    if best is None:
        return "infeasible" if not strict else "teeth leave some"
    assert square <= best[1] and (square == best[1]) != written.claim["best_is_worse"], seed
    return "teeth decide" if not excluded and square == best[1] else "teeth leave some"


def agrees_with_made(sort: str, seed: int, folder: Path) -> str:
    """The same of a design that says what exists already. A held link's certificate tells apart its ratio and number of
    third gears, not their sides nor teeth: it may tell of more trains than there are, never of fewer."""
    text = random_made_design(sort, seed)
    try:
        design = replace(parse_design(text or ""), rank=("error",), front=(), keep=1, prove=False)
    except DesignError:
        return "refused"
    answer = solve(design)
    assert answer.proven
    best = best_of(design, answer.solutions)
    written = write_certificate(folder, design, best, 100)
    checked = check_certificate(folder)
    assert checked.claim == written.claim, (sort, seed)
    square, strict = Fraction(written.claim["square"]), written.claim["strict"]
    trains = [(figures["error"], told(train)) for figures, train in brute_made.all_trains(by_teeth(design))]
    excluded = {train for error, train in trains if (error < square if strict else error <= square)}
    assert Claims(written.claim).better >= excluded, (sort, seed)
    assert best is None or square <= best[1], (sort, seed)
    return (
        "held" if written.claim["held_rings"] or written.claim["held_seats"] or written.claim["held_links"] else "free"
    )


@pytest.mark.deep
def test_what_is_held_is_part_of_a_claim(tmp_path):
    found = [
        agrees_with_made(sort, seed, tmp_path / f"{sort}{seed}") for sort in ("links", "rings") for seed in range(7)
    ]
    assert found.count("held") > 8


@pytest.mark.deep
@pytest.mark.parametrize("sort", SORTS)
def test_certificates_of_further_designs_with_what_exists(sort, tmp_path):
    found = [agrees_with_made(sort, seed, tmp_path / f"{sort}{seed}") for seed in range(40)]
    assert found.count("held") > 20 or (sort in ("jigs", "gears") and found.count("free") > 20)


class Claims:
    """better: the trains that a claim tells as better, as `told` does."""

    def __init__(self, data: dict) -> None:
        from solver.check.certificate.claim import TeethClaim

        claim = TeethClaim(data)
        cases = list(claim.cases())
        self.better = {(cases[at].rings, one.seats, one.links) for at, one, better in claim.told if better}


@pytest.mark.slow
@pytest.mark.parametrize("seed", FEW)
def test_a_certificate_says_what_enumeration_finds(seed, tmp_path):
    assert agrees(seed, tmp_path / "certificate")


@pytest.mark.deep
@pytest.mark.parametrize("seed", [seed for seed in SEEDS if seed not in FEW])
def test_certificates_of_further_designs(seed, tmp_path):
    assert agrees(seed, tmp_path / "certificate")
