"""The audit with a search: places for a train that exists, and the best of the design that it competes in."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import product

from solver.answer.document import Answer, SolutionAnswer
from solver.answer.in_the_way import in_the_way
from solver.answer.solution import solution_answer
from solver.answer.solve import Solving
from solver.check.audit import RingAudit, audit_rings
from solver.check.findings import Finding
from solver.check.missing import missing
from solver.design.design import Design
from solver.design.errors import single, so_many
from solver.design.toothing import is_open, toothings
from solver.design.train import Placement, Train
from solver.design.train_data import RingTrain
from solver.files.rival import rival_of
from solver.search.options.caps import caps_of
from solver.search.order.shared import Progress
from solver.search.place.arranging import Arranger
from solver.search.place.drive import motors_within
from solver.search.place.placing import Fitter
from solver.search.rank import arbor_radii
from solver.search.reaches import gap_of
from solver.search.solves import Solves
from solver.search.stop import Deadline, FirstOf, NoStop, SearchStopped, StopRule, Termination, ask


@dataclass(frozen=True)
class PlacesFound:
    """What looking for places came to: some, none, or not settled (`stopped` says why). missing: of none, what has no
    room and by how much, as far as that was measured."""

    found: Placement | None
    stopped: Termination | None = None
    missing: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class RingReport:
    """A judged ring train; places: where looked for; rival and best: the design that it competes in and its answer,
    where asked for; sought: whether places were asked for."""

    given: RingTrain
    audit: RingAudit
    places: PlacesFound | None = None
    rival: Design | None = None
    best: Answer | None = None
    sought: bool = False

    def solution(self) -> SolutionAnswer:
        """The train as it would stand in an answer, with the names that the file gives."""
        given, solution = self.given, _as_solution(self.audit)
        rings = [
            ring.model_copy(update={"name": name or (ring.name if given.compared else "")})
            for ring, name in zip(solution.rings, given.names, strict=True)
        ]
        if not given.compared:
            nothing = {"target": None, "error_pct": None, "period_error_pct": None}
            rings = [ring.model_copy(update={**nothing, "blank": not ring.name}) for ring in rings]
        return solution.model_copy(update={"rings": rings})

    def solution_found(self) -> SolutionAnswer | None:
        """Likewise at the places that were found."""
        if self.places is None or self.places.found is None:
            return None
        return _as_solution(audit_rings(self.given, self.places.found))


def _as_solution(audit: RingAudit) -> SolutionAnswer:
    return solution_answer(audit.design, audit.train, audit.verdict, 1)


def ring_report(
    given: RingTrain,
    place: bool = False,
    best: bool = False,
    stop: StopRule | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> RingReport:
    """Judge a ring train. place: look for places that keep every rule; where the file gives none, they are judged with
    the rest. best: solve the design that the train competes in. Each has the file's time limit; stop: an additional
    stop rule; progress: called now and then. Raises DesignError."""
    return Auditing(given, place, best, progress).run(stop or NoStop())


class Auditing:
    """A ring train that is judged in one thread, while another one may ask what is known so far; see `ring_report`."""

    def __init__(
        self,
        given: RingTrain,
        place: bool = False,
        best: bool = False,
        progress: Callable[[Progress], None] | None = None,
        tell: Callable[[str], None] = lambda words: None,
    ) -> None:
        """tell: called with words about what is done. Raises DesignError."""
        self._tell = tell
        self._given, self._place = _settled(given), place
        self._open = given if is_open(given.design) else None
        self._rival = _rival(given) if best else None
        self._solving = None if self._rival is None else Solving(self._rival, progress)
        self._judged: tuple[RingAudit, PlacesFound | None] | None = None

    def run(self, stop: StopRule) -> RingReport:
        """The report, once. Raises DesignError."""
        audit, places = audit_rings(self._given), None
        if self._place:
            broken = (
                f"{so_many(len(audit.findings), 'broken rule')} so far" if audit.findings else "no rule broken so far"
            )
            self._tell(f"looking for places, {broken}")
            audit, places = _with_places(self._given, audit, stop)
            if self._open is not None and places is not None and not places.found and not places.stopped:
                audit, places = self._with_others(self._open, audit, places, stop)
        self._judged = audit, places
        if self._solving is not None:
            self._tell("solving the design that it competes in")
        best = None if self._solving is None else self._solving.run(stop)
        return RingReport(self._given, audit, places, self._rival, best, self._place)

    def _with_others(
        self, given: RingTrain, audit: RingAudit, places: PlacesFound, stop: StopRule
    ) -> tuple[RingAudit, PlacesFound | None]:
        """The same with the other toothing of third gears, where that has places and breaks no more rules."""
        for design in toothings(given.design):
            other = replace(given, design=design)
            judged, found = (
                _with_places(other, audit_rings(other), stop) if design != self._given.design else (audit, None)
            )
            if found is not None and (found.stopped or (found.found and len(judged.findings) < len(audit.findings))):
                self._given = other if found.found else self._given
                return (judged, found) if found.found else (audit, found)
        return audit, places

    def so_far(self, reason: Termination) -> RingReport:
        """The report as if all that is looked for ended here for that reason."""
        unplaced = PlacesFound(None, reason) if self._place else None
        audit, places = self._judged or (audit_rings(self._given), unplaced)
        best = None if self._solving is None else self._solving.so_far(reason)
        return RingReport(self._given, audit, places, self._rival, best, self._place)


def _settled(given: RingTrain) -> RingTrain:
    """The train with third gears as the audit takes them."""
    if not is_open(given.design):
        return given
    wire = replace(given.design.wire, third=audit_rings(given).design.wire.third)
    return replace(given, design=replace(given.design, wire=wire))


def _rival(given: RingTrain) -> Design:
    if not given.compared:
        raise single("bodies", None, "is missing: --best needs bodies, whose periods say what is better", given.name)
    return rival_of(given)


def _with_places(given: RingTrain, audit: RingAudit, stop: StopRule) -> tuple[RingAudit, PlacesFound | None]:
    """Look for places; where the file gives none, what is found, or that there are none, belongs to the audit."""
    design = given.design
    if design.fit.directions is None:
        why = "fit.directions" if design.arbors.reverted else "arbors.reverted"
        raise single(why, None, "--place needs directions to look in, and arbors.reverted = true", given.name)
    if any(one.rule in ("reverted", "third") and one.where.startswith("link") for one in audit.findings):
        return replace(audit, notes=(*audit.notes, "no places were looked for: a link above has none of its own")), None
    limit = FirstOf(stop, Deadline(design.time_limit_s))
    places = find_places(given, limit)
    if places.found is None and not places.stopped:
        places = replace(places, missing=_missing(given, limit) or _in_the_way(given, limit))
    if given.stands is not None or places.stopped:
        return audit, places
    if places.found is not None:
        return audit_rings(given, places.found), places
    text = f"no choice among {len(design.fit.directions)} directions gives everything a place"
    if places.missing:
        notes = [note for note in audit.notes if not note.startswith("places are not given")]
        notes.append("no places were found; what else needs places is not judged")
        return replace(audit, findings=(*audit.findings, *places.missing), notes=tuple(notes)), places
    none = Finding("direction", "train", text, hint="allow more directions, or loosen what [fit] asks for")
    return replace(audit, findings=(*audit.findings, none)), places


def _arranged(design: Design, fitter: Fitter, train: Train) -> Placement:
    """The places that the file prefers, or those found first where time ends that."""
    if design.fit.arrange != "first":
        with suppress(SearchStopped):
            train, _ = Arranger(design, fitter).arranged(train)
    assert train.placement is not None
    return train.placement


def _radii(given: RingTrain) -> list[range]:
    """At which distances each arbor may stand [teeth]."""
    gap, rings = gap_of(given.design), given.train.rings
    return [arbor_radii(rings[at], rings[at + 1], link, gap) for at, link in enumerate(given.train.links)]


def _missing(given: RingTrain, stop: StopRule) -> tuple[Finding, ...]:
    """What has no room; what the stop rule ends is not told."""
    try:
        return tuple(missing(given, _radii(given), partial(ask, stop)))
    except SearchStopped:
        return ()


def _in_the_way(given: RingTrain, stop: StopRule) -> tuple[Finding, ...]:
    """What else has no room, likewise."""

    def places(other: RingTrain) -> Placement | None:
        found = _placed(other, stop)
        return None if found is None else found[1]

    try:
        return tuple(in_the_way(given, places, partial(ask, stop)))
    except SearchStopped:
        return ()


def find_places(given: RingTrain, stop: StopRule) -> PlacesFound:
    """The first places of a train's gears, rollers and drive in the directions of its file that keep every rule of fit;
    arbors that may stand nearer or farther are tried at every distance, drives within max_envelope before others."""
    try:
        found = _placed(given, stop)
    except SearchStopped as stopped:
        return PlacesFound(None, stopped.reason)
    return PlacesFound(
        None if found is None else _arranged(given.design, found[0], replace(given.train, placement=found[1]))
    )


def _placed(given: RingTrain, stop: StopRule) -> tuple[Fitter, Placement] | None:
    """The first of these places, with what found them; None: there are none. Raises SearchStopped."""
    design, train = given.design, given.train
    gap = gap_of(design)
    fitter = Fitter(design, gap, partial(ask, stop), Solves(design.seed, stop))
    within = motors_within(design, train, gap, None)
    drives = None if within is None else list(within)
    most = caps_of(design).get("envelope")
    if drives is not None and most is not None:
        drives.sort(key=lambda motor: motor.reach > most)
    for chosen in product(*_radii(given)):
        ask(stop)
        found = fitter.placement(train, chosen, drives)
        if found is not None:
            return fitter, found
    return None
