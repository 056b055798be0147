"""The house from its imports: packages, arrows between them, circles of files, class names. `make map` draws it.

What is imported later, inside a function, is an arrow like any other; what only types need is none.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDERS = ("solver", "constraints", "benchmarks")
MAP = ROOT / "DEVELOPERS.md"
_BEGIN, _END = "<!-- made by `make map` -->", "<!-- until here -->"

Arrows = Mapping[str, frozenset[str]]


@cache
def modules() -> dict[str, Path]:
    """Every module, by its dotted name."""
    found = (path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py")))
    return {".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path for path in found}


def package_of(module: str) -> str:
    """The package that a module is in, its own `__init__` too; the few modules beside packages are each their own."""
    alone = modules()[module].name == "__init__.py" or module.rpartition(".")[0] in ("solver", "benchmarks")
    return module if alone else module.rpartition(".")[0]


def tree(module: str) -> ast.Module:
    """A module, read. Kept by nobody: the trees of all modules are two million objects to collect garbage among."""
    return ast.parse(modules()[module].read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Facts:
    """What a module imports of the others, and what it names for type checkers as well; its classes, its docstring."""

    imports: frozenset[str]
    named: frozenset[str]
    classes: tuple[str, ...]
    told: str


@cache
def facts() -> Mapping[str, Facts]:
    found = {}
    for module in modules():
        whole = tree(module)
        classes = tuple(node.name for node in ast.walk(whole) if isinstance(node, ast.ClassDef))
        imported, named = (frozenset(_imported(nodes)) - {module} for nodes in (_running(whole), ast.walk(whole)))
        found[module] = Facts(imported, named, classes, ast.get_docstring(whole) or "")
    return found


def imports() -> Arrows:
    """What each module imports of the others."""
    return {module: one.imports for module, one in facts().items()}


def named() -> Arrows:
    """What each module imports of the others, for type checkers alone too."""
    return {module: one.named for module, one in facts().items()}


def _imported(nodes: Iterable[ast.AST]) -> Iterator[str]:
    for node in nodes:
        if isinstance(node, ast.Import):
            yield from (name.name for name in node.names if name.name in modules())
        elif isinstance(node, ast.ImportFrom) and node.module:
            for name in node.names:
                full = f"{node.module}.{name.name}"
                if full in modules() or node.module in modules():
                    yield full if full in modules() else node.module


def _running(whole: ast.Module) -> Iterator[ast.AST]:
    """Every node that is not for type checkers alone."""
    left: list[ast.AST] = [whole]
    for node in left:
        if not (isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"):
            yield node
            left += ast.iter_child_nodes(node)


@cache
def arrows() -> Arrows:
    """What each package imports of the others."""
    found: dict[str, set[str]] = {package_of(module): set() for module in modules()}
    for module, others in imports().items():
        found[package_of(module)] |= {package_of(other) for other in others}
    return {package: frozenset(others - {package}) for package, others in found.items()}


def circle(graph: Arrows) -> list[str]:
    """One circle, if there is any."""
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as fault:
        return list(fault.args[1])
    return []


def classes() -> list[tuple[str, str]]:
    """Name and module of every class of the program, but for those of benchmarks."""
    return [(name, module) for module, one in facts().items() for name in one.classes if "benchmarks" not in module]


# -- the drawing -------------------------------------------------------------------------------------------------------


def rooms(graph: Arrows) -> Arrows:
    """The arrows between rooms: the first two words of a package's name."""
    found: dict[str, set[str]] = {}
    for package, others in graph.items():
        found.setdefault(_room(package), set()).update(map(_room, others))
    return {room: frozenset(others - {room}) for room, others in found.items()}


def _room(package: str) -> str:
    return ".".join(package.split(".")[:2])


def drawing() -> str:
    """The map as it stands in DEVELOPERS.md: rooms as a graph (Mermaid), and the packages of each, lowest first."""
    graph = {package: others for package, others in arrows().items() if not package.startswith("benchmarks")}
    between = {room: others - {"solver"} for room, others in rooms(graph).items() if room != "solver"}
    lines = [_BEGIN, "", "```mermaid", "graph TD"]
    for room in sorted(between):
        lines += [f"  {_id(room)}[{room.removeprefix('solver.')}]"]
        lines += [f"  {_id(room)} --> {_id(other)}" for other in sorted(_direct(room, between))]
    lines += ["```", "", "| package | what lives there | imports |", "|---|---|---|"]
    for package in sorted(graph, key=lambda one: (_floor(one, graph), one)):
        told = ", ".join(f"`{_short(other)}`" for other in sorted(graph[package]) if other != "solver")
        lines.append(f"| `{_short(package)}` | {_purpose(package)} | {told or '–'} |")
    return "\n".join([*lines, "", _END])


def _purpose(package: str) -> str:
    """The first sentence of its docstring."""
    text = " ".join(facts()[package].told.split())
    return re.split(r"(?<=[.])\s", text)[0].rstrip(".")


def _floor(package: str, graph: Arrows) -> int:
    """How many packages stand below it at most, one on the other."""
    return max((1 + _floor(other, graph) for other in graph[package]), default=0)


def _direct(room: str, graph: Arrows) -> set[str]:
    """What it imports that none of its other imports imports too, by whatever way."""
    return {one for one in graph[room] if not any(one in _below(other, graph) for other in graph[room] - {one})}


def _below(room: str, graph: Arrows) -> set[str]:
    found: set[str] = set()
    left = [room]
    while left:
        new = graph[left.pop()] - found
        found |= new
        left += new
    return found


def _id(room: str) -> str:
    return room.replace(".", "_")


def _short(package: str) -> str:
    return package.removeprefix("solver.")


def drawn(text: str) -> str:
    """DEVELOPERS.md with the map as it is now."""
    return re.sub(re.escape(_BEGIN) + ".*" + re.escape(_END), lambda _: drawing(), text, flags=re.DOTALL)


if __name__ == "__main__":
    MAP.write_text(drawn(MAP.read_text(encoding="utf-8")), encoding="utf-8")
    sys.exit(0)
