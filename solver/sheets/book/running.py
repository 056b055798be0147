"""The chapter on how the gears run: the play to set, how it changes with the distance, how exact gears must be."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from fractions import Fraction
from math import floor

from solver.forms.form import Spec
from solver.forms.hands import STEP_MM, HandMade
from solver.forms.pins import SHORT
from solver.forms.runs import MeshRun
from solver.sheets.book.document import Block, Heading, Items, Paragraph, TextTable
from solver.sheets.gears.adjust import MeshInTrain, what_it_does
from solver.sheets.gears.exactness import SHARE, Exactness
from solver.sheets.gears.inventory import Inventory
from solver.words.lengths import Lengths
from solver.words.numbers import decimal

_DRILLS = {"mm": 0.1, "in": 25.4 / 64}  # steps between the sizes of drills [mm]
_NONE = "–"


def running(
    stock: Inventory, meshes: Sequence[MeshInTrain], exact: Exactness | None, lengths: Lengths
) -> Iterator[Block]:
    """How every mesh is set, and how exactly every gear must be made."""
    even = f"{100 * stock.sizes.uneven:g} % of a tooth"
    pitch, held = stock.sizes.pitch_mm, "the smaller gear" if stock.form.plate else "the gear with pins"
    if any(spec.toothing == SHORT for mesh in meshes for spec in (mesh.one, mesh.other)):
        held += ", or with short teeth if the other is a ring,"
    yield Heading("The play to set", 2)
    yield Paragraph(
        f"Hold {held} of a mesh and turn the other to and fro: a point of its pitch circle must move as far "
        "as this play, at the place of a tooth where it moves least. A drill shank is the gauge to hold beside it: the "
        "next smaller size is told. With less play the centres are too near, with more too far."
    )
    some = _gathered(meshes)
    name = names_of(spec for mesh in meshes for spec in (mesh.one, mesh.other))
    units = lengths.units
    drills = tuple("drill" if len(units) == 1 else f"drill [{unit}]" for unit in units)
    rows = []
    for mesh, posts in some:
        run = mesh.running.nominal
        told = [_NONE] * (2 + len(units)) if run is None else [
            lengths.text(run.backlash),
            *(drill_told(run.backlash, unit) for unit in units),
            f"{100 * run.uneven / pitch:.1f}",
        ]  # fmt: skip
        rows.append((name(mesh.one), name(mesh.other), posts, *told, _fault(run, mesh)))
    heads = ("gear", "with", "on", "play", *drills, "strays [% of a tooth]", "what to mind")
    yield _without_empty(TextTable(heads, tuple(rows), "lll" + "r" * (len(units) + 2) + "l", "At x and y"))
    yield Heading("Play and distance", 2)
    yield Paragraph(
        "How much nearer and farther than at x and y two centres may be, by true gears, and the play there. A mesh "
        f"that strays at most {even} at x and y does so over all of this; one that strays more "
        "is told from where it jams to where it slips."
    )
    yield TextTable(
        ("gear", "with", "nearer by", "play", "then it", "play at x, y", "farther by", "play", "then it"),
        tuple((name(mesh.one), name(mesh.other), *_distances(mesh, lengths)) for mesh, _ in some),
        "llrrlrrrl",
    )
    yield Heading("How exact each gear must be", 2)
    yield from _exact(exact, stock, lengths)


def names_of(specs: Iterable[Spec]) -> Callable[[Spec], str]:
    """How gears are called where several have the same teeth: those that are made in two ways with their toothing."""
    ways: dict[str, set[str]] = {}
    for spec in specs:
        ways.setdefault(spec.name, set()).add(spec.toothing)
    return lambda spec: spec.name if len(ways[spec.name]) == 1 else f"{spec.name}, {spec.toothing}"


def drill_told(mm: float, unit: str) -> str:
    """The next smaller drill: in tenths of a millimetre, or in 64ths of an inch."""
    steps = floor(mm / _DRILLS[unit] + 1e-9)
    if steps < 1:
        return "none"
    if unit == "mm":
        return f"{steps / 10:.1f}\u00a0mm"
    whole, part = divmod(Fraction(steps, 64), 1)
    return " ".join(filter(None, (str(whole) if whole else "", str(part) if part else ""))) + "\u00a0in"


def _gathered(meshes: Sequence[MeshInTrain]) -> list[tuple[MeshInTrain, str]]:
    """Meshes of the same gears once, with the names of all posts."""
    found: dict[tuple[str, ...], tuple[MeshInTrain, list[str]]] = {}
    for mesh in meshes:
        posts = " and ".join(filter(None, mesh.posts))
        key = mesh.one.name, mesh.other.name, mesh.one.toothing, mesh.other.toothing
        found.setdefault(key, (mesh, []))[1].append(posts)
    return [(mesh, ", ".join(posts)) for mesh, posts in found.values()]


def _fault(run: MeshRun | None, mesh: MeshInTrain) -> str:
    if run is None:
        return "cannot be made"
    return "" if mesh.running.even else what_it_does(run)


def _distances(mesh: MeshInTrain, lengths: Lengths) -> tuple[str, ...]:
    where, nominal = mesh.running, mesh.running.nominal
    play = _NONE if nominal is None else lengths.text(nominal.backlash)
    if where.span is None:
        return (_NONE, _NONE, "", play, _NONE, _NONE, "does not run at x and y")
    (near, far), (low, high) = where.ends, where.beyond
    return (
        lengths.text(-float(where.span.low_mm)), lengths.text(near.backlash), low, play,
        lengths.text(float(where.span.high_mm)), lengths.text(far.backlash), high,
    )  # fmt: skip


def _without_empty(table: TextTable) -> TextTable:
    """The table without its last column where nothing stands in it."""
    if any(row[-1] for row in table.rows):
        return table
    return TextTable(table.heads[:-1], tuple(row[:-1] for row in table.rows), table.align[:-1], table.caption)


# -- hands -----------------------------------------------------------------------------------------------------------


def _exact(exact: Exactness | None, stock: Inventory, lengths: Lengths) -> Iterator[Block]:
    if exact is None:
        yield Paragraph("Not worked out: gears of this form are cut from plate, and no pins come out of place.")
        return
    tried, own = exact.pairs[0].made.tried, lengths.text(exact.accuracy_mm)
    yield Paragraph(
        f"Teeth and pins are out of place, radii are too large or too small, and gears are oval, each by no more than "
        f"an accuracy. Of {tried} pairs whose errors are drawn at random within it, always the same ones, this is how "
        f"many run for a whole turn at x and y. Where nothing is adjusted: slots give back what radii are out. "
        f"An accuracy of {own} is wire.accuracy; set it to your own."
    )
    rows = []
    name = names_of(spec for pair in exact.pairs for spec in (pair.one, pair.other))
    for spec, pair in exact.gears():
        mate = pair.other if spec is pair.one else pair.one
        need = "not even if true" if pair.need_mm is None else lengths.text(pair.need_mm)
        need = f"less than {lengths.text(STEP_MM)}" if pair.need_mm == 0 else need
        rows.append((f"{spec.name}, {spec.toothing}", need, name(mate)))
    share = f"{100 * SHARE:g} %"
    yield TextTable(
        ("gear", "may be out by", "for its mesh with"), tuple(rows), "lrl", f"At which accuracy {share} of pairs run"
    )
    if any(pair.need_mm is None for pair in exact.pairs):
        even = f"{100 * stock.sizes.uneven:g} % of a tooth"
        told = f"Where not even true gears run, they jam, slip, or stray more than {even}"
        yield Items((f"{told}: `ringwright teeth` proposes teeth that run better.",))
    yield TextTable(
        ("gear", "with", "run [%]", "jam [%]", "slip [%]", "hunt [%]"),
        tuple(
            (name(pair.one), name(pair.other), *(decimal(100 * part, 1) for part in _shares(pair.made)))
            for pair in exact.pairs
        ),
        "llrrrr",
        f"Of pairs made to {own}",
    )


def _shares(made: HandMade) -> tuple[float, ...]:
    return made.running, made.jam / made.tried, made.slip / made.tried, made.hunt / made.tried
