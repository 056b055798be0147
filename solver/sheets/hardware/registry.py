"""Reads the tables of bought parts, and refuses what cannot be one; lengths [mm].

A bearing is listed once in the files, and four times here: open and shielded ("MR63", "MR63ZZ"), without a flange and
with one ("MF63", "MF63ZZ"). Each part names the source of its numbers.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from importlib.resources import files
from typing import Any

_UNITS = {"mm": Decimal(1), "in": Decimal("25.4")}
SCREW_FILES = ("screws-metric.toml", "screws-inch.toml")
SHIELDED = "ZZ"  # behind the name of a bearing with a shield on both sides (common practice, no source)


class RegistryFault(ValueError):
    """A data file whose parts cannot be; the message names the part."""


@dataclass(frozen=True)
class BallBearing:
    """A ball bearing [mm]: bore x outside x width; flange and flange_thick: of its flange, 0 without one."""

    name: str
    bore: float
    outside: float
    width: float
    flange: float = 0.0
    flange_thick: float = 0.0
    shielded: bool = False
    source: str = ""


@dataclass(frozen=True)
class ScrewHead:
    """A head [mm]: "pan", "countersunk" say; its greatest diameter and height; of a countersunk one the angle [degrees]
    and the diameter to which its cone would go, 0 where not known. least: its least diameter, 0 where not known."""

    kind: str
    standard: str
    diameter: float
    height: float
    angle: float
    theoretical: float
    least: float
    source: str


@dataclass(frozen=True)
class FlatWasher:
    """A flat washer [mm]."""

    inside: float
    outside: float
    thick: float
    source: str


@dataclass(frozen=True)
class HexNut:
    """A hexagon nut [mm]."""

    across_flats: float
    height: float
    source: str


@dataclass(frozen=True)
class ScrewSize:
    """A size of screw [mm]: its major diameter, its clearance hole as usual, and all three of the table (metric: fine,
    medium, coarse; inch: normal, least and greatest loose one), its heads, nut and washer."""

    name: str
    major: float
    clearance: float
    holes: tuple[float, float, float]
    heads: tuple[ScrewHead, ...]
    nut: HexNut
    washer: FlatWasher
    source: str

    def head(self, kind: str) -> ScrewHead:
        """The head of a kind. Raises KeyError."""
        for head in self.heads:
            if head.kind == kind:
                return head
        raise KeyError(kind)


@lru_cache(maxsize=1)
def bearings() -> Mapping[str, BallBearing]:
    """Every ball bearing by its name."""
    return read_bearings(_text("bearings.toml"))


@lru_cache(maxsize=1)
def screws() -> Mapping[str, ScrewSize]:
    """Every size of screw by its name, metric ones first, each by size."""
    found: dict[str, ScrewSize] = {}
    for name in SCREW_FILES:
        found |= read_screws(_text(name))
    return found


def _text(name: str) -> str:
    return (files(__package__) / name).read_text(encoding="utf-8")


def read_bearings(text: str) -> dict[str, BallBearing]:
    """Bearings of a data file. Raises RegistryFault."""
    data, found = _data(text, {"sources", "bearing"}), dict[str, BallBearing]()
    for entry in data["bearing"]:
        where = _PartEntry(entry, "bearing", {"name", "sizes", "shielded_width", "flanged", "source"}, data["sources"])
        for made in _variants(where):
            if made.name in found:
                raise RegistryFault(f"bearing {made.name}: is listed twice")
            if not made.bore < made.outside:
                raise RegistryFault(f"bearing {made.name}: its bore must be less than its outside")
            if made.flange and not made.flange > made.outside:
                raise RegistryFault(f"bearing {made.name}: its flange must be larger than its outside")
            if made.flange and not made.flange_thick < made.width:
                raise RegistryFault(f"bearing {made.name}: its flange must be thinner than it is wide")
            found[made.name] = made
    return found


def _variants(entry: _PartEntry) -> Iterator[BallBearing]:
    (bore, outside, width), name, source = entry.lengths("sizes", 3), entry.text("name"), entry.source("source")
    wide = entry.length("shielded_width")
    if wide < width:
        raise RegistryFault(f"bearing {name}: shields make it narrower")
    yield BallBearing(name, bore, outside, width, source=source)
    yield BallBearing(name + SHIELDED, bore, outside, wide, shielded=True, source=source)
    known = {"name", "flange", "thick", "shielded_thick", "width"}
    flanged = _PartEntry(entry.data["flanged"], f"bearing {name}, flanged", known, {})
    own, flange = flanged.text("name"), flanged.length("flange")
    if "width" in flanged.data:
        width = flanged.length("width")
    yield BallBearing(own, bore, outside, width, flange, flanged.length("thick"), source=source)
    if "shielded_thick" in flanged.data:
        thick = flanged.length("shielded_thick")
        yield BallBearing(own + SHIELDED, bore, outside, wide, flange, thick, True, source)


def read_screws(text: str) -> dict[str, ScrewSize]:
    """Sizes of screws of a data file. Raises RegistryFault."""
    data, found = _data(text, {"unit", "sources", "screw"}), dict[str, ScrewSize]()
    scale, sources = _UNITS[data["unit"]], data["sources"]
    for entry in data["screw"]:
        one = _PartEntry(entry, "screw", {"name", "major", "holes", "nut", "washer", "heads"}, sources, scale)
        name, major = one.text("name"), one.length("major")
        if name in found:
            raise RegistryFault(f"screw {name}: is listed twice")
        fine, medium, coarse = one.lengths("holes", 3)
        if not major < fine < medium < coarse:
            raise RegistryFault(f"screw {name}: holes must grow, and be larger than the screw")
        inside, outside, thick = one.lengths("washer", 3)
        if not major < inside < outside:
            raise RegistryFault(f"screw {name}: its washer does not go over it")
        flats, height = one.lengths("nut", 2)
        if flats <= major:
            raise RegistryFault(f"screw {name}: its nut is smaller than the screw")
        heads = tuple(_head(head, name, major, sources, scale) for head in one.data["heads"])
        found[name] = ScrewSize(
            name,
            major,
            medium if data["unit"] == "mm" else fine,
            (fine, medium, coarse),
            heads,
            HexNut(flats, height, _known(sources, "nut")),
            FlatWasher(inside, outside, thick, _known(sources, "washer")),
            _known(sources, "hole"),
        )
    return found


def _head(data: Any, screw: str, major: float, sources: Mapping[str, str], scale: Decimal) -> ScrewHead:
    known = {"kind", "standard", "sizes", "angle", "theoretical", "least", "source"}
    one = _PartEntry(data, f"screw {screw}, head", known, sources, scale)
    diameter, height = one.lengths("sizes", 2)
    theoretical = one.length("theoretical") if "theoretical" in one.data else 0.0
    least = one.length("least") if "least" in one.data else 0.0
    if diameter <= major or (theoretical and theoretical < diameter) or least > diameter:
        raise RegistryFault(f"screw {screw}: its head, {one.text('kind')}, cannot be so large")
    angle = float(one.data.get("angle", 0))
    return ScrewHead(
        one.text("kind"), one.text("standard"), diameter, height, angle, theoretical, least, one.source("source")
    )


def _data(text: str, keys: set[str]) -> dict[str, Any]:
    data = tomllib.loads(text, parse_float=Decimal)
    if set(data) != keys:
        raise RegistryFault(f"a file of parts has the keys {', '.join(sorted(keys))}")
    if data.get("unit", "mm") not in _UNITS:
        raise RegistryFault(f"unit: {data['unit']} is none; the units are {', '.join(_UNITS)}")
    return data


def _known(sources: Mapping[str, str], name: str) -> str:
    if not sources.get(name):
        raise RegistryFault(f"sources: {name} is missing")
    return sources[name]


class _PartEntry:
    """An entry of a data file, its keys known; lengths are positive, and told in mm."""

    def __init__(
        self, data: Any, what: str, keys: set[str], sources: Mapping[str, str], scale: Decimal = Decimal(1)
    ) -> None:
        self.data, self.sources, self.scale = data, sources, scale
        self.what = f"{what} {data.get('name', '')}".strip()
        strange = set(data) - keys
        if strange:
            raise RegistryFault(f"{self.what}: unknown key {', '.join(sorted(strange))}")

    def text(self, key: str) -> str:
        value = self.data.get(key)
        if not isinstance(value, str) or not value:
            raise RegistryFault(f"{self.what}: {key} is missing")
        return value

    def source(self, key: str) -> str:
        return _known(self.sources, self.text(key))

    def length(self, key: str) -> float:
        return self._mm(self.data.get(key), key)

    def lengths(self, key: str, count: int) -> list[float]:
        value = self.data.get(key)
        if not isinstance(value, list) or len(value) != count:
            raise RegistryFault(f"{self.what}: {key} must be {count} lengths")
        return [self._mm(one, key) for one in value]

    def _mm(self, value: object, key: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | Decimal) or value <= 0:
            raise RegistryFault(f"{self.what}: {key} must be a length greater than 0")
        return float(Decimal(value) * self.scale)
