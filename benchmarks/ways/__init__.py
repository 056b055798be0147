"""The ways to solve a case: ours, and independent formulations for general solvers."""

from __future__ import annotations

from benchmarks.ways.bitset import BITSET
from benchmarks.ways.choco import CHOCO
from benchmarks.ways.common import Found, Outcome, Peer, Point, Unsupported, Way, rounding
from benchmarks.ways.cpsat import CPSAT
from benchmarks.ways.didp import DIDP
from benchmarks.ways.evolution import EVOLUTION
from benchmarks.ways.greedy import GREEDY
from benchmarks.ways.minizinc import GECODE
from benchmarks.ways.mip import MIP
from benchmarks.ways.ours import OURS, OURS_TEN
from benchmarks.ways.pumpkin import PUMPKIN, PUMPKIN_PROOF

WAYS: tuple[Way, ...] = (
    *(OURS, OURS_TEN, BITSET, CPSAT, GECODE, CHOCO, PUMPKIN, PUMPKIN_PROOF, DIDP, MIP, EVOLUTION, GREEDY),
)
BY_NAME = {way.name: way for way in WAYS}

__all__ = ["BY_NAME", "WAYS", "Found", "Outcome", "Peer", "Point", "Unsupported", "Way", "rounding"]
