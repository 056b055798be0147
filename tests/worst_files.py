"""Files of up to a megabyte that are as dear to read as we could think of: by name, the kind and the text."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import count

from solver.files.text import MOST_MARKS

MOST = 1_000_000
BODIES = '[bodies]\nset = "saturn"\n'
RINGS = BODIES + "[rings]\ninner_teeth = 24\n"


def filled(head: str, unit: str, tail: str = "") -> str:
    """One unit as often as there is room for, and as may be counted."""
    return numbered(head, lambda _: unit, tail)


def numbered(head: str, unit: Callable[[int], str], tail: str = "") -> str:
    """Units that differ, as many as there is room for, and as may be counted."""
    found, room, marks = [head], MOST - len(head) - len(tail), MOST_MARKS - 100
    for index in count():
        one = unit(index)
        room -= len(one)
        marks -= sum(map(one.count, "\n=,[{."))
        if room < 0 or marks < 0:
            return "".join(found) + tail
        found.append(one)
    raise AssertionError


def listed(values: range) -> str:
    return "[" + ",".join(map(str, values)) + "]"


def heavy_bodies() -> str:
    """A hundred bodies with the longest names and periods."""
    entries = (f'[[bodies.list]]\nname = "{"x" * 70}{i:03}"\nperiod = "{i + 1}.{"1" * 55}"\n' for i in range(100))
    return "[bodies]\n" + "".join(entries) + "[rings]\ntooth_step = 1\n"


def heavy_arbors() -> str:
    keys = ("wheel_teeth", "pinion_teeth", "third_teeth", "stock")
    return RINGS + "[arbors]\n" + "".join(f"{key} = {listed(range(3, 1001))}\n" for key in keys) + "third_gears = 1\n"


def heavy_rings() -> str:
    return BODIES.replace("saturn", "uranus") + f"[rings]\nteeth = [{','.join([listed(range(3, 900))] * 110)}]\n"


def worst_files() -> Iterator[tuple[str, str, str]]:
    """Name, kind ("toml", "json" or "audit") and text."""
    yield "keys", "toml", numbered("", lambda i: f"k{i:x}=1\n")
    yield "headings", "toml", numbered("", lambda i: f"[x{i:x}]\n")
    yield "deep keys", "toml", numbered("", lambda i: f"{'.'.join('a' * 98)}.x{i:x}=1\n")
    yield "lists of tables", "toml", filled(BODIES, "[[bodies.list]]\n")
    yield "too many floats", "toml", BODIES + "x=[" + "1.5," * 249_000 + "]\n"
    yield "floats", "toml", filled(BODIES + "x=[", "1.5,", "]\n")
    yield "escapes", "toml", filled('title="', "\\n", '"\n' + BODIES)
    yield "comments", "toml", filled(BODIES, "#\n")
    yield "quotes", "toml", filled('title="""', '""\\"', '"""\n' + BODIES)
    yield "a long number", "toml", filled(BODIES + "[rings]\ntooth_pitch=1.", "1", "\n")
    yield (
        "structures",
        "toml",
        '[bodies]\nset="saturn"\nonly=["Mimas","Titan"]\n[rings]\n'
        + ("inner_teeth={min=3,max=500}\ntooth_step={min=1,max=500}\n"),
    )
    yield "varied numbers", "toml", RINGS + f"[vary]\nrings.tooth_step = {listed(range(1, 50_000))}\n"
    yield "varied lists", "toml", numbered(RINGS + "[vary]\nrings.tooth_step=[", lambda i: f"[{i}],", "]\n")
    yield "varied tables", "toml", numbered(RINGS + "[vary]\nbodies=[", lambda i: f"{{a={i}}},", "]\n")
    yield "varied fields", "toml", numbered(RINGS + "[vary]\n", lambda i: f"k{i:x}=[1,2]\n")
    yield "999 varied fields", "toml", RINGS + "[vary]\n" + "".join(f"k{i}=[1,2]\n" for i in range(999))
    yield "long paths", "toml", numbered(
        RINGS + f'[vary."{"l" * 500_000}"]\n', lambda i: f"k{i:x}=[1]\n"
    )  # fmt: skip
    yield (
        "faults everywhere",
        "toml",
        RINGS
        + "".join(
            f"[[point]]\nrings.stop{i}={i}\nbodies.onli={i}\nfit.clearence=3\nsearch.kep=3\n" for i in range(9999)
        ),
    )
    yield "one fault everywhere", "toml", RINGS + "tooth_stop=4\n[vary]\nrings.rim={min=1,max=10000}\n"
    yield (
        "ten thousand tables",
        "toml",
        RINGS + "".join(f'[[point]]\n"fit.frame"={{shape="square",side={i + 400}}}\n' for i in range(9999)),
    )
    titles = ",".join(f'"{"x" * 90}{i}"' for i in range(9000))
    yield "ten thousand titles", "toml", RINGS + f"[vary]\ntitle=[{titles}]\n"
    grid = "[vary]\nrings.inner_teeth={min=500,max=599}\nrings.rim={min=1,max=100}\n"
    yield "heavy bodies", "toml", heavy_bodies() + grid
    yield "heavy arbors", "toml", heavy_arbors() + grid
    yield "heavy rings", "toml", heavy_rings() + "[vary]\nrings.rim={min=1,max=10000}\n"
    spans = ",".join(["{min=3,max=1000}"] * 110)
    yield "spans", "toml", BODIES.replace("saturn", "uranus") + "[vary]\nrings.teeth=[" + ",".join(
        f"[{i + 3},{spans}]" for i in range(350)
    ) + "]\n"  # fmt: skip
    yield "links", "audit", BODIES + "[train]\nrings=[24,30]\n" + "[[train.links]]\n" * 49_000
    yield "meshes", "audit", filled("[train]\nmeshes=[", "{wheel=1,pinion=1},", "]\n")
    yield "a key twice", "json", numbered("{", lambda i: f'"k{i:x}":1,', '"z":1,"z":2}')
    yield "keys below a long one", "json", '{"' + "a" * 500_000 + '":{' + ",".join(
        f'"k{i:x}":1' for i in range(40_000)
    ) + "}}"  # fmt: skip
    yield "lists in lists", "json", filled('{"bodies":[', "[],", "1]}")
