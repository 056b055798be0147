"""The limits of a design file, each as something that can be loosened by degrees: an edit of the file's data."""

from __future__ import annotations

from collections.abc import Iterator

from solver.design.design import Design
from solver.design.toothing import toothings
from solver.files.schema import DesignFile
from solver.search.why.arm_knobs import arm_knobs
from solver.search.why.drift_knobs import drift_knobs
from solver.search.why.fit_knobs import fit_knobs
from solver.search.why.gear_knobs import arbor_knobs, body_knobs, ring_knobs
from solver.search.why.knob import Best, Data, Knob
from solver.search.why.limit_knobs import limit_knobs
from solver.search.why.made_knobs import made_knobs
from solver.search.why.run_knobs import run_knobs
from solver.search.why.sag_knobs import sag_knobs
from solver.search.why.wish_knobs import wish_knobs


def knobs_of(data: Data, design: Design, best: Best) -> Iterator[Knob]:
    """Every limit of a file. best: the least (1 + worst error)**2, or least value of another rank key, of data."""
    file = DesignFile.model_validate(data)
    own = toothings(design)[0]  # lengths, thicknesses and weights are asked of gears whose toothing is settled
    yield from made_knobs(own)
    yield from ring_knobs(file, design)
    yield from arbor_knobs(file, design)
    yield from body_knobs(data, file, design)
    yield from drift_knobs(file, design)
    yield from fit_knobs(file, own)
    yield from wish_knobs(data, file, own)
    yield from sag_knobs(own, best)
    yield from run_knobs(design, best)
    yield from arm_knobs(own, best)
    yield from limit_knobs(file, own, best)
