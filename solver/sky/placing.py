"""A design's bodies at a date, as a document: longitudes, angles of the rings, and what is to be known about them."""

from __future__ import annotations

from collections.abc import Sequence

from solver.design.design import Design
from solver.sky.bodies import SkyBody, ring_angle, sky_of
from solver.sky.document import BodySetting, SettingDocument
from solver.sky.moments import Moment, Scale, civil, delta, tt_text
from solver.sky.notes import notes_on
from solver.sky.paths import rounded_turn, signed

_DECIMALS = 6  # of degrees: less than a hundredth of an arc second


def setting_at(
    design: Design, rank: int, moment: Moment, scale: Scale, true: bool, first: Sequence[str] = ()
) -> SettingDocument:
    """Where the bodies of a design stand at a moment. true: rings at the true longitudes, where those are known; first:
    what is noted before all else.

    Raises SkyError where a body has no longitude, or a source does not reach so far.
    """
    sky = sky_of(design)
    return SettingDocument(
        schema="ringwright.setting/1",
        title=design.title,
        rank=rank,
        date=tt_text(moment),
        date_utc=civil(moment),
        scale=scale,
        tt_minus_utc_s=float(delta(moment)),
        zero_deg=float(design.sky.zero_deg),
        seen_from=design.sky.seen_from,
        true=true,
        bodies=[body_at(design, body, moment, true) for body in sky],
        notes=[*first, *notes_on(sky, moment, true)],
    )


def body_at(design: Design, body: SkyBody, moment: Moment, true: bool) -> BodySetting:
    """One body at a moment. Raises SkyError where its source does not reach so far."""
    mean, really = body.mean(moment), body.true(moment)
    shown = mean if really is None or not true else really
    return BodySetting(
        name=body.name,
        mean_longitude_deg=rounded_turn(mean, _DECIMALS),
        true_longitude_deg=None if really is None else rounded_turn(really, _DECIMALS),
        true_within_deg=body.true_within,
        equation_deg=None if really is None else round(signed(really - mean), _DECIMALS),
        greatest_equation_deg=body.greatest,
        ring_angle_deg=rounded_turn(ring_angle(design, body, shown), _DECIMALS),
        rate_deg_per_day=float(body.rate),
        plane=body.plane,
        zero=body.zero,
        source=body.source,
    )
