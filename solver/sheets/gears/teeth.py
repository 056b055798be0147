"""Which teeth make a train run better: lengths for its gears, what they do to each mesh, and whether it still fits.

The lengths are the best that were found (`forms.better`), not proven to be the best. A larger addendum takes more room,
so the design is solved again with them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf
from typing import Any

from solver.answer.audit import find_places
from solver.answer.document import Answer, SolutionAnswer, made_as, train_of
from solver.answer.solve import solve
from solver.design.design import Design, Wire
from solver.design.errors import DesignError, single
from solver.design.train import Train
from solver.design.train_data import RingTrain
from solver.forms import FORMS
from solver.forms.better import better_teeth
from solver.forms.form import Sizes, Spec, sizes_of
from solver.forms.pinned import PinForm
from solver.forms.runs import MeshRun
from solver.search.order.shared import Progress
from solver.search.stop import Deadline, FirstOf, NoStop, StopRule
from solver.sheets.gears.adjust import meshes_of, what_it_does
from solver.sheets.gears.gears import form_of

SCHEMA = "ringwright.teeth/1"
LIMIT = "curved"  # the form that turns most evenly: the physical limit of wire and pins
LEAST_PLAY = Fraction(1, 20)  # of a pitch: less play only where a mesh has less now (common practice, no source)
_INCH = Fraction(254, 10)

Tell = Callable[[str], None]


def _with_form(wire: Wire, form: str) -> Wire:
    """The wire bent to another form; third gears have what they had where that form knows it, else pins."""
    return replace(wire, form=form, third=wire.third if wire.third in FORMS[form].thirds else "pins")


@dataclass(frozen=True)
class ToothLengths:
    """Lengths [mm] that make teeth: rings.addendum, rings.rim and wire.jig_pin, the diameter about which wire is bent;
    form: wire.form."""

    form: str
    addendum: Fraction
    rim: Fraction
    jig_pin: Fraction

    def applied(self, design: Design) -> Design:
        """The design with these lengths."""
        rings = replace(design.rings, addendum=self.addendum, rim=self.rim)
        return replace(design, rings=rings, wire=replace(_with_form(design.wire, self.form), jig_pin=self.jig_pin))


@dataclass(frozen=True)
class TeethAsMade:
    """Lengths, and how each mesh runs with them at its nominal distance; None for one that cannot be made."""

    lengths: ToothLengths
    runs: tuple[MeshRun | None, ...]

    def worst(self) -> int:
        """Which mesh runs worst: one that does not run, else the one that strays most."""
        return max(range(len(self.runs)), key=lambda number: _badness(self.runs[number]))


@dataclass(frozen=True)
class TeethProposal:
    """What better teeth do to a train. meshes: their gears; posts: on what each stands. now: the design's own; then:
    those proposed; limit: of the form LIMIT; None where none were found with which every mesh runs."""

    meshes: tuple[tuple[str, str], ...]
    posts: tuple[str, ...]
    pitch_mm: float
    now: TeethAsMade
    then: TeethAsMade | None
    limit: TeethAsMade | None


@dataclass(frozen=True)
class TriedTeeth:
    """What becomes of a train with the proposed lengths. answer: to the design with them. rank: of the train in it;
    None where it is not listed. fits: whether places were found for it; None where that is not settled, or no places
    are computed."""

    design: Design
    answer: Answer
    rank: int | None
    fits: bool | None


@dataclass(frozen=True)
class BetterTrain:
    """A proposal for a train, and what becomes of it: None without a proposal."""

    proposal: TeethProposal
    tried: TriedTeeth | None


def better_train(
    design: Design,
    solution: SolutionAnswer,
    most_mm: float = inf,
    most_rim_mm: float = inf,
    stop: StopRule | None = None,
    progress: Callable[[Progress], None] | None = None,
    tell: Tell | None = None,
) -> BetterTrain:
    """Teeth with which a solution's worst mesh turns most evenly, and the design solved with them.

    most_mm: the largest addendum; most_rim_mm: the largest rim. stop: an additional stop rule of the search; progress:
    called by it now and then; tell: called with words about what else is done. Raises DesignError for a design whose
    gears have no pins.
    """
    design, train = made_as(design, solution), train_of(design, solution)
    proposal = proposed_teeth(design, train, most_mm, most_rim_mm, tell)
    return BetterTrain(proposal, tried_teeth(design, train, proposal, stop, progress))


def refuse_plate(design: Design) -> None:
    """Refuse a design whose gears have no pins. Raises DesignError."""
    if not isinstance(form_of(design), PinForm):
        wired = ", ".join(f'"{name}"' for name, form in FORMS.items() if isinstance(form, PinForm))
        raise single("wire.form", design.wire.form, f"teeth are proposed for forms of wire: {wired}")


def proposed_teeth(
    design: Design, train: Train, most_mm: float = inf, most_rim_mm: float = inf, tell: Tell | None = None
) -> TeethProposal:
    """The teeth alone. Raises DesignError for a design whose gears have no pins."""
    refuse_plate(design)
    meshes, sizes = meshes_of(design, train), sizes_of(design)
    # Where they are left out of the geometry, as gears are made then.
    addendum, rim = design.rings.addendum or Fraction(sizes.addendum_mm), design.rings.rim or Fraction(sizes.rim_mm)
    own = ToothLengths(design.wire.form, addendum, rim, design.wire.jig_pin)
    now = _teeth(design, train, own)
    plays = [_least_play(run, sizes.pitch_mm) for run in now.runs]
    found: dict[str, TeethAsMade | None] = {}
    for name in dict.fromkeys((design.wire.form, LIMIT)):
        if tell is not None:
            tell(f"looking for {FORMS[name].title}")
        made = replace(design, wire=_with_form(design.wire, name))
        found[name] = _best(made, train, most_mm, most_rim_mm, plays)
    return TeethProposal(
        tuple((mesh.one.name, mesh.other.name) for mesh in meshes),
        tuple(" and ".join(filter(None, mesh.posts)) for mesh in meshes),
        sizes.pitch_mm,
        now,
        found[design.wire.form],
        found[LIMIT],
    )


def _least_play(run: MeshRun | None, pitch_mm: float) -> float:
    """The play that a mesh is to keep [mm], from how it runs now: that, or LEAST_PLAY."""
    usual = float(LEAST_PLAY) * pitch_mm
    return usual if run is None or run.jams or run.slips else min(usual, run.backlash)


def _best(
    design: Design, train: Train, most_mm: float, most_rim_mm: float, plays: Sequence[float]
) -> TeethAsMade | None:
    form, sizes = form_of(design), sizes_of(design)
    assert isinstance(form, PinForm)
    least: dict[tuple[Spec, Spec], float] = {}
    for pair, play in zip(_pairs(design, train), plays, strict=True):
        least[pair] = max(play, least.get(pair, 0.0))
    best = better_teeth(
        form, sizes, list(least), most_mm=most_mm, most_rim_mm=most_rim_mm, plays_mm=list(least.values())
    )
    if best is None:
        return None
    some = (best.addendum_mm, best.rim_mm, best.jig_pin_mm)
    lengths = ToothLengths(form.name, *(_written(mm, design.units) for mm in some))
    return _teeth(design, train, lengths)


def _written(mm: float, units: str) -> Fraction:
    """A length as it is written in a file: tenths of a millimetre, or thousandths of an inch."""
    return Fraction(round(mm / 0.0254), 1000) * _INCH if units == "in" else Fraction(round(mm * 10), 10)


def _teeth(design: Design, train: Train, lengths: ToothLengths) -> TeethAsMade:
    made = lengths.applied(design)
    form, sizes = form_of(made), sizes_of(made)
    return TeethAsMade(lengths, tuple(_run(form, sizes, one, other) for one, other in _pairs(made, train)))


def _run(form: Any, sizes: Sizes, one: Spec, other: Spec) -> MeshRun | None:
    try:
        run: MeshRun = form.run(sizes, one, other)
    except DesignError:
        return None
    return None if any(form.outline(sizes, spec).unmade for spec in (one, other)) else run


def _pairs(design: Design, train: Train) -> list[tuple[Spec, Spec]]:
    return [(mesh.one, mesh.other) for mesh in meshes_of(design, train)]


def _badness(run: MeshRun | None) -> float:
    if run is None:
        return inf
    return run.uneven + (1e6 if run.jams or run.slips else 0.0)


# -- tried -----------------------------------------------------------------------------------------------------------


def tried_teeth(
    design: Design,
    train: Train,
    proposal: TeethProposal,
    stop: StopRule | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> TriedTeeth | None:
    """What becomes of a train where its design is solved with what is proposed; None without a proposal."""
    if proposal.then is None:
        return None
    design, stop = proposal.then.lengths.applied(design), stop or NoStop()
    answer = solve(design, stop, progress)
    told = Train.gears if design.gathers_orders else Train.identity
    same = (one.rank for one in answer.solutions if told(train_of(design, one)) == told(train))
    rank = next(same, None)
    if rank is not None or design.fit.directions is None or not design.arbors.reverted:
        return TriedTeeth(design, answer, rank, True if rank is not None else None)
    found = find_places(_alone(design, train), FirstOf(stop, Deadline(design.time_limit_s)))
    return TriedTeeth(design, answer, None, None if found.stopped else found.found is not None)


def _alone(design: Design, train: Train) -> RingTrain:
    """The train to be placed in a design, as the audit takes it."""
    return RingTrain(
        name=design.title, design=design, train=replace(train, placement=None), names=(), compared=True,
        directions_stated=True, stands=None, rollers=None, motor=None, ratios=(), states=(), broken=(), notes=(),
        source={},
    )  # fmt: skip


# -- as data ---------------------------------------------------------------------------------------------------------


def plain_teeth(better: BetterTrain, units: str) -> dict[str, Any]:
    """All of it as one JSON document. Lengths of the file in its unit, all others in mm."""
    proposal, tried = better.proposal, better.tried
    told = {"now": proposal.now, "proposed": proposal.then, "limit": proposal.limit}
    return {
        "schema": SCHEMA,
        "proven": False,
        "lengths": {name: None if one is None else _lengths(one.lengths, units) for name, one in told.items()},
        "worst": {name: None if one is None else _mesh(proposal, one, one.worst()) for name, one in told.items()},
        "meshes": [
            {
                "gears": list(gears),
                "on": proposal.posts[number],
                **{name: None if one is None else _mesh(proposal, one, number) for name, one in told.items()},
            }
            for number, gears in enumerate(proposal.meshes)
        ],
        "tried": None
        if tried is None
        else {
            "rank": tried.rank,
            "fits": tried.fits,
            "status": str(tried.answer.status),
            "proven": tried.answer.proven,
            "best": tried.answer.solutions[0].model_dump(mode="json") if tried.answer.solutions else None,
        },
    }


def _lengths(lengths: ToothLengths, units: str) -> dict[str, Any]:
    unit = _INCH if units == "in" else Fraction(1)
    fields = {"rings.addendum": lengths.addendum, "rings.rim": lengths.rim, "wire.jig_pin": lengths.jig_pin}
    return {"wire.form": lengths.form, **{field: round(float(mm / unit), 6) for field, mm in fields.items()}}


def _mesh(proposal: TeethProposal, teeth: TeethAsMade, number: int) -> dict[str, Any]:
    run, gears = teeth.runs[number], list(proposal.meshes[number])
    if run is None:
        return {"gears": gears, "uneven_pct": None, "play_mm": None, "runs": False, "fault": "cannot be made"}
    runs = not run.jams and not run.slips
    return {
        "gears": gears,
        "uneven_pct": round(100 * run.uneven / proposal.pitch_mm, 3),
        "play_mm": round(run.backlash, 3),
        "runs": runs,
        "fault": None if runs else what_it_does(run),
    }


def named_lengths(lengths: ToothLengths, units: str) -> Sequence[tuple[str, str]]:
    """The fields of the file with their values."""
    return [
        (field, f'"{value}"' if isinstance(value, str) else f"{value:g}")
        for field, value in _lengths(lengths, units).items()
    ]
