"""A judged train as it stands in the answer."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from math import atan2, degrees, hypot

from solver.answer.document import DriveAnswer, LinkAnswer, PlaceAnswer, RingAnswer, SolutionAnswer, range_text
from solver.check.verdict import Verdict
from solver.design.design import Design
from solver.design.exact import error_above, float_above, fraction_text
from solver.design.train import LinkPlace, Spot, Train
from solver.search.order.alike import ALONE, OrderCount


def solution_answer(
    design: Design, train: Train, verdict: Verdict, rank: int, orders: OrderCount = ALONE
) -> SolutionAnswer:
    """A judged train as it stands in the answer. orders: of its links, for which it stands."""
    assert verdict.error_square is not None
    worst = error_above(verdict.error_square, 100)
    rings, blanks = [], 0
    placement = train.placement
    for index, (teeth, ring) in enumerate(zip(train.rings, verdict.rings, strict=True)):
        blanks += ring.body is None
        rings.append(
            RingAnswer(
                name=f"blank {blanks}" if ring.body is None else design.bodies[ring.body].name,
                blank=ring.body is None,
                teeth=teeth,
                ratio=(ring.ratio.numerator, ring.ratio.denominator),
                target=None if ring.target is None else range_text(*ring.target),
                error_pct=None if ring.error is None else min(worst, float_above(100 * ring.error)),
                period_error_pct=None if ring.period_error is None else float(100 * ring.period_error),
                sense="reverse" if ring.reverse else "same",
                rollers=[
                    _place(hypot(*roller.spot) / 1000, roller.spot, roller.direction)
                    for roller in (placement.rollers[index] if placement and placement.rollers else ())
                ],
            )
        )
    links = []
    for index, (link, figures) in enumerate(zip(train.links, verdict.links, strict=True)):
        at = placement.links[index] if placement else None
        links.append(
            LinkAnswer(
                kind=link.kind,
                wheel=link.wheel,
                pinion=link.pinion,
                thirds=list(link.thirds),
                ratio=(figures.ratio.numerator, figures.ratio.denominator),
                arbor=None if figures.arbor_mm is None else _axis(figures.arbor_mm, at),
                third_at=_third_places(figures.thirds_mm, at),
            )
        )
    return SolutionAnswer(
        rank=rank,
        worst_error_pct=worst,
        parts=verdict.parts,
        jigs=verdict.jigs,
        teeth=verdict.teeth,
        largest=verdict.largest,
        envelope_mm=verdict.envelope_mm,
        orders=orders.orders,
        orders_settled=orders.settled,
        rings=rings,
        links=links,
        drive=_drive_answer(design, train, verdict),
        new_gears=verdict.new_gears if design.counts_new else None,
    )


def told_toothing(solution: SolutionAnswer, made: Design) -> SolutionAnswer:
    """The solution with what its third gears have, where it has any. made: the design with that settled."""
    has = any(link.thirds for link in solution.links) or bool(solution.drive and solution.drive.thirds)
    return solution.model_copy(update={"third_toothing": made.third_toothing if has else None})


def _drive_answer(design: Design, train: Train, verdict: Verdict) -> DriveAnswer | None:
    if train.placement is None or train.placement.drive is None or verdict.drive is None or design.drive is None:
        return None
    drive, figures = train.placement.drive, verdict.drive
    ring, radius_mm = train.rings[drive.ring], design.rings.pitch.radius_mm
    turn = design.drive.turn
    return DriveAnswer(
        ring=drive.ring,
        motor_rpm=fraction_text(drive.rpm),
        pinion=drive.pinion,
        thirds=list(drive.thirds),
        motor=_axis(radius_mm(drive.at.radius), drive.at),
        third_at=_third_places([radius_mm(ring + third) for third in drive.thirds], drive.at),
        ring_seconds=[float(seconds) for seconds in figures.seconds],
        body=None if turn is None else design.bodies[turn[0]].name,
        seconds=None if turn is None else float(figures.seconds[train.seats[turn[0]]]),
        error_pct=None if figures.error is None else float_above(100 * figures.error),
    )


def _axis(radius_mm: float, at: LinkPlace | None) -> PlaceAnswer:
    return _place(radius_mm) if at is None else _place(radius_mm, at.arbor, at.direction)


def _third_places(radii_mm: Iterable[float], at: LinkPlace | None) -> list[PlaceAnswer]:
    if at is None:
        return [_place(radius_mm) for radius_mm in radii_mm]
    return [
        _place(radius_mm, spot, round(degrees(atan2(spot[1], spot[0])) % 360, 4))
        for radius_mm, spot in zip(radii_mm, at.thirds, strict=True)
    ]


def _place(radius_mm: float, spot: Spot | None = None, direction: Fraction | float | None = None) -> PlaceAnswer:
    return PlaceAnswer(
        direction_deg=None if direction is None else float(direction),
        radius_mm=round(radius_mm, 3),
        x_mm=None if spot is None else spot[0] / 1000,
        y_mm=None if spot is None else spot[1] / 1000,
    )
