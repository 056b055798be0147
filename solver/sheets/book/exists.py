"""What exists already, by the file's table [made], as the sheets tell it: lists are of the whole model."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from solver.design.errors import so_many
from solver.forms.plans import JigPlan
from solver.sheets.book.document import Block, Items, Paragraph
from solver.sheets.gears.inventory import Inventory


def jigs_to_make(stock: Inventory) -> tuple[JigPlan, ...]:
    """The jigs of which there is neither one nor a piece that was made on it."""
    made = stock.design.on_bench
    there = {"ring": made.ring_counts}
    return tuple(jig for jig in stock.jigs if jig.teeth not in there.get(jig.kind, made.gear_counts))


def there_already(stock: Inventory) -> Iterator[Block]:
    """Rings, links and gears that exist; nothing where the file is silent."""
    made = stock.design.made
    if made is None:
        return
    told = []
    if made.links:
        words = ", ".join(f"{one.link} ({one.wheel}/{one.pinion})" for one in made.links)
        told.append(f"{'Link' if len(made.links) == 1 else 'Links'} {words}: built, and stay.")
    rings = sorted({*made.rings, *(one.teeth for one in made.held if one.teeth is not None)} & set(stock.train.rings))
    if rings:
        told.append(f"Rings of {', '.join(map(str, rings))} teeth: finished.")
    gears = Counter(z for link in stock.train.links for z in (link.wheel, link.pinion, *link.thirds))
    there = {teeth: min(count, made.drawer.get(teeth, 0)) for teeth, count in sorted(gears.items())}
    words = ", ".join(f"{count} of {teeth} teeth" for teeth, count in there.items() if count)
    new = made.new_gears(gears.elements())
    if words:
        told.append(f"Gears, those of these links too: {words}. Of arbors and third gears {new} are to be made.")
    if told:
        yield Paragraph(
            "By the file these exist already; the lists are of the whole model, so leave out what you have:"
        )
        yield Items(tuple(told))


def jigs_there(stock: Inventory) -> Iterator[Block]:
    """The jigs that exist."""
    new = jigs_to_make(stock)
    there = [jig.name.removeprefix("jig ") for jig in stock.jigs if jig not in new]
    if there:
        yield Paragraph(
            f"By the file {so_many(len(there), 'jig')} exist{'s' if len(there) == 1 else ''} already: "
            f"{', '.join(there)}. Hours and the shopping list leave {'it' if len(there) == 1 else 'them'} out."
        )
