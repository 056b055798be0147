"""What exhaustive enumeration finds for every random design: kept in files, and enumerated afresh for a part of them.

`expected/trains.json` and `expected/places.json` hold, for each design, its hash and what `Answer` has. Each bears the
hash of its enumerator: of brute.py (and brute_places.py) and of the functions below, which decide the truth. Of the
package they use the design as it is read, whose own hash each entry bears, and the plain data `Link` and `Train`;
nothing of the search. `python tests/enumerated.py` makes both files anew.
"""

from __future__ import annotations

import hashlib
import json
import re
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, dataclass, replace
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

from brute import all_trains, front, identity, ranked
from brute_places import TooMany, TooNear, ranked_with_places
from random_designs import driven_backwards, random_design, random_placed_design, standing_inside, tied_drives, turning

from solver import Design, DesignError, parse_design

HERE = Path(__file__).resolve().parent
SOURCES = {"trains": ("brute.py",), "places": ("brute.py", "brute_places.py")}
fresh = "all"  # which tenth is enumerated afresh; set by the options of the tests

# -- what is enumerated ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Kind:
    """One sort of random designs: where its answers are kept, how many there are, the design of a number (None where
    the dice made one that the file's rules refuse), and what the enumeration says of it: counts, and what it found."""

    file: str
    many: int
    design: Callable[[int], Design | None]
    answer: Callable[[Design], tuple[list[int], Any]]


def parsed(text: str) -> Design | None:
    try:
        return parse_design(text)
    except DesignError:
        return None


def teeth(train) -> tuple:
    return train.rings, train.seats, [(link.kind, link.wheel, link.pinion, link.thirds) for link in train.links]


# enumerator: trains


def list_of(design: Design, trains=None) -> tuple[list[int], Any]:
    """The ranked list, as long as the design asks."""
    best = [(key, teeth(train)) for key, train in ranked(design, trains)[: design.keep]]
    return [len(best)], best


def list_and_front(design: Design) -> tuple[list[int], Any]:
    """The ranked list, and the front where one is asked for."""
    trains = all_trains(design)
    points = [(teeth(train), ties) for _, train, ties in front(design, trains)] if design.front else []
    counts, best = list_of(design, trains)
    return counts, [best, points]


def different(design: Design) -> tuple[list[int], Any]:
    """All trains that differ in more than third gears, in no order."""
    found = {identity(train) for _, train in ranked(design)}
    return [len(found)], sorted(found)


# enumerator: places


def list_with_places(design: Design) -> tuple[list[int], Any]:
    """The ranked list of those that have a place, with it, and the front over error and envelope where one is asked
    for; -1 where floats cannot judge a distance or too much is to be tried."""
    try:
        best, refused = ranked_with_places(design, design.keep)
    except (TooNear, TooMany):
        return [-1, 0, 0], None
    points = []
    if design.front:
        assert design.front == ("error", "envelope")
        every, _ = ranked_with_places(replace(design, rank=design.front), 10**6)
        points = sorted({one[0][:2] for one in every if not any(beats(other, one) for other in every)})
    thirds = sum(len(link.thirds) for _, train, *_ in best for link in train.links)
    return [len(best), refused, thirds], [[placed(*entry) for entry in best], points]


def placed(key, train, radii, spots, motor) -> tuple:
    """One of the list, places in whole micrometres."""
    stood = [(way, micro(arbor), [micro(spot) for spot in thirds]) for way, (arbor, thirds) in spots]
    return key, teeth(train), radii, stood, motor and (motor.ring, motor.rpm, motor.pinion, motor.third)


def micro(spot) -> tuple[int, int]:
    return round(1000 * spot[0]), round(1000 * spot[1])


def beats(one, other) -> bool:
    """Whether the first two figures of one are nowhere worse, and somewhere better."""
    (a, b), (c, d) = one[0][:2], other[0][:2]
    return a <= c and b <= d and (a, b) != (c, d)


# enumerator: end


KINDS = {
    "ranked": Kind("trains", 340, lambda seed: parsed(random_design(seed)), list_of),
    "wild": Kind("trains", 260, lambda seed: parsed(random_design(seed, wild=True)), list_and_front),
    "different": Kind("trains", 80, lambda seed: parsed(random_design(seed)), different),
    "placed": Kind("places", 168, lambda seed: parse_design(random_placed_design(seed)), list_with_places),
    "driven": Kind("places", 24, lambda number: parse_design(driven_backwards()[number]), list_with_places),
    "tied": Kind("places", 20, lambda number: parse_design(tied_drives()[number]), list_with_places),
    "turning": Kind("places", 8, lambda number: turning()[number], list_with_places),
    "inside": Kind("places", 8, lambda number: standing_inside(turning()[number]), list_with_places),
}

# -- the files ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Answer:
    """What the enumeration says of a design: the hash of what it found, and how many trains that is; of places, how
    many better choices had none, and how many third gears are in the list."""

    hash: str
    many: int
    refused: int = 0
    thirds: int = 0

    def is_of(self, found: Any) -> bool:
        return short(plain(found)) == self.hash


def kept(kind: str, number: int, design: Design) -> Answer:
    """What the enumeration said of a random design. Raises AssertionError where that was another enumeration, or
    another design."""
    file = KINDS[kind].file
    told = _kept(file)
    assert told["enumerator"] == enumerator(file), f"expected/{file}.json is of another enumerator: run `make expected`"
    named, *rest = told[kind].get(str(number), ("", "", 0))
    assert named == short(design.sha256()), f"{kind} {number} was another design once: run `make expected`"
    return Answer(*rest)


def answer_of(kind: str, number: int, design: Design) -> Answer:
    """The same; where it is this design's turn, enumerated afresh too. Raises AssertionError where that differs."""
    answer = kept(kind, number, design)
    if fresh in ("all", str(number % 10)):
        assert answer == afresh(kind, number), f"{kind} {number}: expected/ has another answer: run `make expected`"
    return answer


@cache
def afresh(kind: str, number: int) -> Answer:
    design = KINDS[kind].design(number)
    assert design is not None
    counts, found = KINDS[kind].answer(design)
    return Answer(short(plain(found)), *counts)


def differs(kind: str, number: int, design: Design, got: Any) -> str:
    """For a test that fails: what was found, and what enumeration, afresh, says of the design."""
    wanted = plain(KINDS[kind].answer(design)[1])
    return f"{kind} {number}: {design.canonical_text()}\nfound:\n{plain(got)}\nenumerated:\n{wanted}"


def plain(found: Any) -> Any:
    """Lists of text, whatever kinds of numbers and sequences they are of."""
    return [plain(item) for item in found] if isinstance(found, list | tuple) else str(found)


def short(thing: Any) -> str:
    text = thing if isinstance(thing, str) else json.dumps(thing, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def enumerator(file: str) -> str:
    """The hash of the source that decides the truth. Without imports of the package: where its nouns live decides
    nothing."""
    here = re.split(r"^# enumerator: \w+$", Path(__file__).read_text(encoding="utf-8"), flags=re.MULTILINE)
    parts = [here[1]] + ([here[2]] if file == "places" else [])
    text = "".join([(HERE / name).read_text(encoding="utf-8") for name in SOURCES[file]] + parts)
    return hashlib.sha256(re.sub(r"^from solver.*\n", "", text, flags=re.MULTILINE).encode()).hexdigest()


@cache
def _kept(file: str) -> dict[str, Any]:
    kept: dict[str, Any] = json.loads((HERE / "expected" / f"{file}.json").read_text(encoding="utf-8"))
    return kept


# -- made anew ---------------------------------------------------------------------------------------------------------


def _entry(task: tuple[str, int]) -> tuple[str, int, list[Any] | None]:
    kind, number = task
    design = KINDS[kind].design(number)
    if design is None:
        return kind, number, None
    answer = afresh(kind, number)
    return kind, number, [short(design.sha256()), *astuple(answer)]


def _written(file: str, entries: dict[str, dict[int, list[Any]]]) -> Iterator[str]:
    yield "{\n" + f' "enumerator": "{enumerator(file)}"'
    for kind in (name for name, one in KINDS.items() if one.file == file):
        yield f',\n "{kind}": {{\n'
        yield ",\n".join(f'  "{number}": {json.dumps(entry)}' for number, entry in sorted(entries[kind].items()))
        yield "\n }"
    yield "\n}\n"


def main() -> None:
    tasks = [(kind, number) for kind, one in KINDS.items() for number in range(one.many)]
    entries: dict[str, dict[int, list[Any]]] = {kind: {} for kind in KINDS}
    done = count(1)
    with ProcessPoolExecutor() as pool:
        for kind, number, entry in pool.map(_entry, reversed(tasks)):
            print(f"\r{next(done)} of {len(tasks)} random designs", end="", file=sys.stderr, flush=True)
            if entry is not None:
                entries[kind][number] = entry
    print(file=sys.stderr)
    (HERE / "expected").mkdir(exist_ok=True)
    for file in SOURCES:
        (HERE / "expected" / f"{file}.json").write_text("".join(_written(file, entries)), encoding="utf-8")


if __name__ == "__main__":
    main()
