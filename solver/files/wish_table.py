"""Resolves what the table [fit] wishes of places. Raises DesignError where it goes with nothing else in the file."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from solver.design.design import Fit
from solver.design.errors import single, so_many
from solver.design.wishes import LinkSpan, Sector
from solver.files.schema import FitTable
from solver.files.wish_fields import LinkPlaceTable


def with_wishes(fit: Fit, table: FitTable, links: int) -> Fit:
    """The fit with what is wished of it. links: of the longest train that there may be. Raises DesignError."""
    if fit.directions is None:
        return fit
    keep_free = tuple(Sector(begin % 360, end) for begin, end in table.keep_free)
    places = tuple(sorted(_places(table, fit.directions, links), key=lambda one: one.link))
    return replace(fit, arrange=table.arrange or "spread", link_places=places, keep_free=keep_free)


def _places(table: FitTable, directions: tuple[Fraction, ...], links: int) -> list[LinkSpan]:
    found: list[LinkSpan] = []
    for index, entry in enumerate(table.link):
        path = f"fit.link[{index}]"
        if entry.link >= links:
            allowed = f"no train has this link: of {so_many(links, 'link')} at most, the first is link 0"
            raise single(f"{path}.link", entry.link, allowed)
        if any(one.link == entry.link for one in found):
            raise single(f"{path}.link", entry.link, "has an entry already; give each link one")
        found.append(LinkSpan(entry.link, _sector(entry, path, directions)))
    return found


def _sector(entry: LinkPlaceTable, path: str, directions: tuple[Fraction, ...]) -> Sector:
    if (entry.direction is None) == (entry.span is None):
        told = "needs a direction or a span" if entry.direction is None else "give a direction or a span, not both"
        raise single(path, None, told)
    if entry.direction is not None:
        sector = Sector(entry.direction % 360, entry.direction % 360)
        if sector.begin not in directions:
            allowed = f"is not among fit.directions; nearest are {_nearest(sector.begin, directions)}"
            raise single(f"{path}.direction", float(entry.direction), allowed)
        return sector
    assert entry.span is not None
    sector = Sector(entry.span[0] % 360, entry.span[1])
    if not any(map(sector.holds, directions)):
        allowed = f"holds none of fit.directions; nearest are {_nearest(sector.begin, directions)}"
        raise single(f"{path}.span", [float(one) for one in entry.span], allowed)
    return sector


def _nearest(wanted: Fraction, directions: tuple[Fraction, ...]) -> str:
    """The directions on either side of one that is none of them."""
    before = min(directions, key=lambda one: (wanted - one) % 360)
    after = min(directions, key=lambda one: (one - wanted) % 360)
    return " and ".join(f"{float(one):g}" for one in dict.fromkeys((before, after)))
