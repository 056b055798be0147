"""A pair of rings is tried before it is put on: what to measure of each mesh, which value is right, what mends it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from solver.design.errors import DesignError
from solver.sheets.book.running import drill_told
from solver.sheets.gears.adjust import MeshInTrain, what_it_does
from solver.sheets.gears.inventory import Inventory
from solver.words.lengths import Lengths

# So far out a centre or a ring is when it is plain to see (common practice, no source): told as rules are divided.
OFF_MM = {"mm": (1.0, 0), "in": (25.4 / 32, 32)}


def of_link(meshes: Sequence[MeshInTrain], link: int) -> list[MeshInTrain]:
    """The meshes of a link; -1: of the drive."""
    posts = {"M", "Mt"} if link < 0 else {f"L{link}", f"L{link}w", f"L{link}p"}
    return [mesh for mesh in meshes if posts & set(mesh.posts)]


def trial(stock: Inventory, meshes: Sequence[MeshInTrain], lengths: Lengths) -> Iterator[str]:
    """What to measure on the board: for each mesh the distance of the centres, the play, and what being off does."""
    out, out_told, half_told = off_told(lengths)
    for mesh in meshes:
        run, apart = mesh.running.nominal, centres_mm(stock, mesh)
        if run is None:
            continue
        drill = drill_told(run.backlash, lengths.unit)
        gauge = f", a drill shank of {drill} goes in beside a tooth and no thicker one" if drill != "none" else ""
        near, far = (_off(stock, mesh, off, lengths) for off in (-out, out))
        yield (
            f"{mesh.name}: centres {lengths.text(apart)} apart, by a rule from shaft to shaft or a caliper over both; "
            f"play {lengths.text(run.backlash)} at the pitch circle{gauge}. {out_told} nearer {near}, "
            f"{out_told} farther {far}."
        )
    if meshes:
        yield (
            f"Where it is off: measure each gear across its teeth by its template. One that is {out_told} "
            f"too large across moves its mesh by {half_told}: move the post as far, within its slot; "
            "past its slot open the loop, take the difference times 3.14 out of it (or let it in), and close it again."
        )


def off_told(lengths: Lengths) -> tuple[float, str, str]:
    """How far out is tried [mm], and that and half of it in words: in inches as a rule has them, "1/32 in"."""
    out, parts = OFF_MM[lengths.unit]
    if not parts:
        return out, lengths.text(out), lengths.text(out / 2)
    whole, half = (
        f"1/{of}\u00a0in" + (f"\u00a0({Lengths('mm').text(25.4 / of)})" if lengths.both else "")
        for of in (parts, 2 * parts)
    )
    return out, whole, half


def centres_mm(stock: Inventory, mesh: MeshInTrain) -> float:
    """How far the centres of two gears are apart: the sum of their pitch radii."""
    return stock.sizes.radius_mm(mesh.one.teeth) + stock.sizes.radius_mm(mesh.other.teeth)


def _off(stock: Inventory, mesh: MeshInTrain, off: float, lengths: Lengths) -> str:
    """What a mesh does with its centres so much farther apart."""
    try:
        run = stock.form.run(stock.sizes, mesh.one, mesh.other, off)
    except DesignError:
        return "it cannot be made"
    if run.jams or run.slips:
        return f"it {what_it_does(run)}"
    return f"the play is {lengths.text(run.backlash)}"
