"""What may be loosened of what [made] holds."""

from __future__ import annotations

from collections.abc import Iterator

from solver.design.design import Design
from solver.search.why.knob import Data, Knob, table_of

OPEN = "open"


def made_knobs(design: Design) -> Iterator[Knob]:
    """Each link and each ring that stays may be open again; its gears and its jigs are still there."""
    for link in design.on_bench.links:
        field, told = f"made.links (link {link.link})", f"{link.wheel}/{link.pinion}"
        yield Knob("made", field, told, 1, _Open("links", link.link), lambda _: OPEN)
    for ring in design.on_bench.held:
        words = [] if ring.teeth is None else [f"{ring.teeth} teeth"]
        words += ["blank"] if ring.blank else [] if ring.body is None else [design.bodies[ring.body].name]
        field = f"made.rings (ring {ring.ring})"
        yield Knob("made", field, ", ".join(words), 1, _Open("rings", ring.ring), lambda _: OPEN)


class _Open:
    """Takes a link or a ring out of what stays; what it is made of is in the drawer then."""

    def __init__(self, name: str, number: int) -> None:
        self.name, self.key, self.number = name, name.removesuffix("s"), number

    def __call__(self, data: Data, degree: int) -> None:
        made = table_of(data, "made")
        entries = made.get(self.name, ())
        made[self.name] = [one for one in entries if one.get(self.key) != self.number]
        for one in entries:
            if one.get(self.key) != self.number:
                continue
            if self.name == "links":
                for teeth in (one["wheel"], one["pinion"], *one.get("thirds", ())):
                    _put_in_drawer(made, teeth)
            elif one.get("teeth") is not None:
                made["rings"].append({"teeth": one["teeth"]})


def _put_in_drawer(made: Data, teeth: int) -> None:
    gears = made["gears"] = [dict(one) for one in made.get("gears", ())]
    for one in gears:
        if one["teeth"] == teeth:
            one["count"] = one.get("count", 1) + 1
            return
    gears.append({"teeth": teeth, "count": 1})
