"""The words of commands that take many: one frozen object for each, and a command made from it."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from dataclasses import MISSING, dataclass, fields
from pathlib import Path
from typing import Annotated, Any, TypeVar, get_type_hints

import typer

from solver.words.papers import PAPERS

Words = TypeVar("Words")
RESULTS = Path("runs/results")

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="A design file.", show_default=False)]
RunsOption = Annotated[Path, typer.Option("--results", metavar="DIR", help="Where runs are stored.")]
RunArguments = Annotated[
    list[Path],
    typer.Argument(metavar="RUN|FILE...", help="Folders of stored runs, or design files.", show_default=False),
]
ForceOption = Annotated[bool, typer.Option("--force", help="Write over files that are there already.")]
SourceArgument = Annotated[
    Path, typer.Argument(metavar="RUN|FILE", help="Folder of a stored run, or a design file.", show_default=False)
]
PointOption = Annotated[
    list[str] | None, typer.Option(metavar="ID", help="Of a sweep: this point, by the beginning of its name.")
]
PointsOption = Annotated[
    list[str] | None,
    typer.Option(metavar="ID", help="Of a sweep: this point, by the beginning of its name; repeatable."),
]
BestOption = Annotated[
    int | None, typer.Option(min=1, metavar="N", help="Of a sweep: the N-th best point, by its rank order.")
]
RunArgument = Annotated[Path, typer.Argument(metavar="RUN", help="Folder of a stored run.", show_default=False)]


def taking(words: type[Words]) -> Callable[[Callable[[Words], None]], Callable[..., None]]:
    """Make a function of one object a command whose arguments and options are the object's fields."""
    hints = get_type_hints(words, include_extras=True)
    one_by_one = [
        inspect.Parameter(
            each.name, inspect.Parameter.KEYWORD_ONLY, annotation=hints[each.name],
            default=inspect.Parameter.empty if each.default is MISSING else each.default,
        )
        for each in fields(words)  # type: ignore[arg-type]
    ]  # fmt: skip

    def made(command: Callable[[Words], None]) -> Callable[..., None]:
        def told(**each: Any) -> None:
            command(words(**each))

        told.__name__, told.__doc__ = command.__name__, command.__doc__
        told.__annotations__ = {**hints, "return": None}
        told.__signature__ = inspect.Signature(one_by_one)  # type: ignore[attr-defined]
        return told

    return made


@dataclass(frozen=True)
class SolveWords:
    """What `solve` is told."""

    file: FileArgument
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as one JSON document.")] = False
    save: Annotated[bool, typer.Option("--save/--no-save", help="Store the run.")] = True
    results: RunsOption = RESULTS
    show: Annotated[list[int] | None, typer.Option(min=1, help="Show this solution ring by ring; repeatable.")] = None
    prove: Annotated[
        bool, typer.Option("--prove", help="Have all that is proven proven a second time, from the rules alone.")
    ] = False
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the best solution, or the first shown, as SVG.")
    ] = None
    force: ForceOption = False


@dataclass(frozen=True)
class SweepWords:
    """What `sweep` is told."""

    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="A sweep file; with --status also a run's folder.", show_default=False),
    ]
    results: RunsOption = RESULTS
    name: Annotated[str | None, typer.Option(help="What the run is called, instead of the file's own name.")] = None
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Count the points, estimate the time, solve none.")] = False
    status: Annotated[bool, typer.Option("--status", help="Say how far the run is.")] = False
    extend: Annotated[
        bool, typer.Option("--extend", help="Take a file that has changed: keep what is solved, solve what is new.")
    ] = False
    again: Annotated[bool, typer.Option("--again", help="Solve stopped and failed points once more.")] = False
    mend: Annotated[bool, typer.Option("--mend", help="Put damaged files aside and make good what they held.")] = False
    workers: Annotated[int | None, typer.Option(min=1, max=1024, help="Solves at a time; as many as cores.")] = None
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help='Solve on the workers of a Dask scheduler, or "local" for one made here.'),
    ] = None


@dataclass(frozen=True)
class RankWords:
    """What `rank` is told."""

    runs: RunArguments
    point: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Keep only this point of a sweep, by the beginning of its name; repeatable."),
    ] = None
    by: Annotated[
        str,
        typer.Option(
            help="Rank keys in order, with commas: error, parts, jigs, teeth, largest, envelope (radius), new_gears."
        ),
    ] = "error,parts"
    most: Annotated[
        list[str] | None, typer.Option(metavar="KEY=VALUE", help="Keep only solutions up to this value; repeatable.")
    ] = None
    where: Annotated[
        list[str] | None,
        typer.Option(
            metavar="FIELD=VALUE", help="Keep only designs that say this, like bodies.set=saturn; repeatable."
        ),
    ] = None
    front: Annotated[
        str | None, typer.Option(metavar="KEYS", help="Keep only what no other solution beats in all of these keys.")
    ] = None
    top: Annotated[int, typer.Option(min=1, help="How many to show.")] = 10
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV instead of a table.")] = False
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of a table.")] = False
    parquet: Annotated[Path | None, typer.Option(metavar="FILE", help="Write what is shown as Parquet too.")] = None
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw error against parts of all that is kept, as SVG.")
    ] = None
    force: ForceOption = False


@dataclass(frozen=True)
class ServeWords:
    """What `serve` is told."""

    host: Annotated[
        str, typer.Option(help="The address to listen at. Another than this machine's own needs a token.")
    ] = "127.0.0.1"
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port; 0 for one that is free.")] = 8137
    data: Annotated[Path, typer.Option(metavar="DIR", help="Where jobs are stored.")] = Path("runs/service")
    name: Annotated[
        list[str] | None,
        typer.Option(metavar="HOST", help="A name under which the service may be asked; repeatable."),
    ] = None
    token_file: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A file that holds the token to ask for; else the environment's RINGWRIGHT_TOKEN."
        ),
    ] = None
    access_log: Annotated[
        bool, typer.Option("--access-log", help="Say each request on standard error, without query and headers.")
    ] = False
    proxy: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ADDRESS",
            help="A proxy, by address or network, whose X-Forwarded-Proto and -For are believed; repeatable.",
        ),
    ] = None
    most_points: Annotated[int, typer.Option(min=1, max=1_000_000, help="Points that one job may have.")] = 10_000
    most_jobs: Annotated[int, typer.Option(min=1, max=1_000_000, help="Jobs that may be open.")] = 1_000
    solve_seconds: Annotated[float, typer.Option(min=0.1, max=1e6, help="How long a point may be solved.")] = 600.0
    solve_memory: Annotated[
        int,
        typer.Option(
            min=256, max=1 << 20, metavar="MB", help="How much memory a point may use, beside the solver itself."
        ),
    ] = 4096
    workers: Annotated[int | None, typer.Option(min=1, max=1024, help="Solves at a time; as many as cores.")] = None


@dataclass(frozen=True)
class SettingWords:
    """What `setting` is told."""

    source: SourceArgument
    rank: Annotated[int, typer.Option(min=1, help="Which solution.")] = 1
    point: PointOption = None
    best: BestOption = None
    date: Annotated[
        str | None,
        typer.Option(metavar="DATE", help="Like 2026-12-24 or 2026-12-24T18:00+01:00; without a zone UTC. Else now."),
    ] = None
    scale: Annotated[str, typer.Option(metavar="[utc|tt]", help="In which scale the date is written.")] = "utc"
    true: Annotated[bool, typer.Option("--true", help="Rings at true longitudes, where they are known.")] = False
    since: Annotated[
        str | None,
        typer.Option("--from", metavar="DATE", help="What the model shows now. Else all bodies at the zero mark."),
    ] = None
    clamped: Annotated[
        list[str] | None,
        typer.Option(metavar="BODY", help="A body that is clamped to its ring at any angle; may be repeated."),
    ] = None
    first_exact: Annotated[
        bool,
        typer.Option(
            "--first-exact", help="Ring 0 exactly in its place. Else it may stand off, so that the worst is less off."
        ),
    ] = False
    drift: Annotated[bool, typer.Option("--drift", help="When each body is how far off, as table and plot.")] = False
    meet: Annotated[
        str | None, typer.Option(metavar="BODY,BODY", help="The next ten meetings of two bodies after the date.")
    ] = None
    table: Annotated[str | None, typer.Option(metavar="DATE..DATE", help="Print a table of dates as CSV instead.")] = (
        None
    )
    step: Annotated[
        str | None, typer.Option(metavar="STEP", help="Of --table: like 10d, 6h or 1y; a day unless told.")
    ] = None
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="DIR", help="Write the setting sheet with its dial and the drift into this folder."),
    ] = None
    paper: Annotated[str, typer.Option(metavar=f"[{'|'.join(PAPERS)}]", help="Of the sheet's pages.")] = "a4"
    as_json: Annotated[bool, typer.Option("--json", help="Print it as one JSON document.")] = False
    force: ForceOption = False
