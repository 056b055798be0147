"""What may be loosened of where links are asked to stand, and of what is kept free."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from solver.design.design import Design
from solver.files.schema import DesignFile
from solver.search.why.knob import Data, Knob


def wish_knobs(data: Data, file: DesignFile, design: Design) -> Iterator[Knob]:
    """Each link that is asked for somewhere may stand anywhere, and each sector be used; data: of the file."""
    if design.fit.directions is None:
        return
    for index, entry in enumerate(file.fit.link):
        field = f"fit.link[{index}].{'direction' if entry.span is None else 'span'}"
        some = entry.span or ((entry.direction,) if entry.direction is not None else ())
        now = " to ".join(f"{float(one):g}" for one in some)
        yield Knob("place", field, now, 1, _anywhere(entry.link), lambda degree: "anywhere")
    for index, (begin, end) in enumerate(file.fit.keep_free):
        now, sector = f"{float(begin):g} to {float(end):g}", data["fit"]["keep_free"][index]
        yield Knob("place", f"fit.keep_free[{index}]", now, 1, _used(sector), lambda degree: "none")


def _anywhere(link: int) -> Callable[[Data, int], None]:
    def edit(data: Data, degree: int) -> None:
        data["fit"]["link"] = [entry for entry in data["fit"]["link"] if entry["link"] != link]

    return edit


def _used(sector: object) -> Callable[[Data, int], None]:
    def edit(data: Data, degree: int) -> None:
        left = list(data["fit"]["keep_free"])
        left.remove(sector)
        data["fit"]["keep_free"] = left

    return edit
