"""The commands. Each reads its words, calls one function that a Python user could call, and prints the result."""

from __future__ import annotations

import json
import sys
import traceback
from collections.abc import Callable
from contextlib import nullcontext
from functools import cache
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer

from solver import __version__
from solver.cli import signals, streams
from solver.cli.run import EXIT_BUSY, EXIT_FAULT, EXIT_INPUT, EXIT_LIMIT, exit_code, interruptible, progress_line
from solver.design.errors import DesignError, suggestion
from solver.words.shown import shown

app = typer.Typer(
    name="ringwright",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)

RESULTS = Path("runs/results")

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="A design file.", show_default=False)]
RunsOption = Annotated[Path, typer.Option("--results", metavar="DIR", help="Where runs are stored.")]
RunArguments = Annotated[
    list[Path], typer.Argument(metavar="RUN...", help="Folders of stored runs.", show_default=False)
]
ForceOption = Annotated[bool, typer.Option("--force", help="Write over files that are there already.")]
RunArgument = Annotated[Path, typer.Argument(metavar="RUN", help="Folder of a stored run.", show_default=False)]


class Usage(Exception):
    """A wrong word on the command line: shown in one line, exit code 2."""


def _version(value: bool) -> None:
    if value:
        print(f"ringwright {__version__}")
        raise typer.Exit


@app.callback(epilog="Example: ringwright new hall.toml, then ringwright solve hall.toml")
def _common(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version.")
    ] = False,
) -> None:
    """Proven best gearings for ring-gear orreries: which tooth counts turn all bodies at nearly the right rates.

    Exit codes: 0 solved, 1 failure inside, 2 bad input or usage, 3 proven that nothing fits, 4 stopped by a limit,
    75 another process is at work on the run, 129, 130 or 143 interrupted.
    """


@app.command(epilog="Example: ringwright new hall.toml --bodies saturn --title 'Entrance hall'")
def new(
    file: Annotated[
        Path | None, typer.Argument(metavar="[FILE]", help="Where to write; without it, to standard output.")
    ] = None,
    bodies: Annotated[str, typer.Option(help="The body set to begin with.")] = "saturn",
    title: Annotated[str, typer.Option(help="The design's title.")] = "My orrery",
    units: Annotated[str, typer.Option(metavar="[mm|in]", help="The unit of all lengths.")] = "mm",
    force: ForceOption = False,
) -> None:
    """Write a commented design file to start from."""
    from solver.batch.store.output import output
    from solver.design.design import Design
    from solver.files.template import design_template

    only = ", ".join(f'"{name}"' for name, _ in _body_set(bodies).periods[:3])
    if units not in ("mm", "in"):
        raise Usage(f"--units {units}: choose mm or in")
    text = design_template(title, bodies, only, units, sys.stdout.encoding if file is None else "utf-8")
    Design.parse(text, "--title")
    if file is None:
        print(text, end="")
        return
    with output("", file, force) as stream:
        stream.write(text.encode())
    print(f"wrote {file}; next: ringwright solve {file}", file=sys.stderr)


@app.command(epilog="Example: ringwright bodies trappist-1")
def bodies(
    name: Annotated[str | None, typer.Argument(metavar="[SET]", help="Show this set's periods.")] = None,
) -> None:
    """List the body sets that ship, or show one."""
    from solver.cli.other_tables import set_table, sets_table
    from solver.cli.tables import Paper
    from solver.files.body_sets import body_sets

    paper = Paper(sys.stdout)
    paper.print(sets_table(body_sets().values()) if name is None else set_table(_body_set(name)))


def _body_set(name: str) -> Any:
    from solver.files.body_sets import body_sets

    sets = body_sets()
    if name not in sets:
        near = suggestion(name, sets) or "; the sets are " + ", ".join(sets)
        raise Usage(f'no body set "{name}"{near}')
    return sets[name]


@app.command(epilog="Examples: ringwright solve hall.toml   ringwright solve hall.toml --json --no-save > answer.json")
def solve(
    file: FileArgument,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as one JSON document.")] = False,
    save: Annotated[bool, typer.Option("--save/--no-save", help="Store the run.")] = True,
    results: RunsOption = RESULTS,
    show: Annotated[list[int] | None, typer.Option(min=1, help="Show this solution ring by ring; repeatable.")] = None,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw the best solution, or the first shown, as SVG.")
    ] = None,
    force: ForceOption = False,
) -> None:
    """Find the best solutions of a design and prove it.

    The run is stored in runs/results of the folder you are in, unless told otherwise. Ctrl-C gives the best so far.
    """
    from solver.answer.solve import Solving
    from solver.batch.store.output import OutputError, output, refuse_for_runs, refuse_output
    from solver.cli.tables import Paper, print_answer
    from solver.design.design import Design
    from solver.files.load import read_text
    from solver.search.stop import Termination
    from solver.sheets.views.drawn import drawn

    text = read_text(file)
    design = Design.parse(text, str(file))
    if picture is not None:
        if design.fit.directions is None:
            raise Usage("--picture: this design has no places; give fit.directions, and arbors.reverted = true")
        refuse_output("--picture", picture, force, file)
    if save:
        refuse_for_runs(results)
    with progress_line() as progress:
        solving = Solving(design, progress)
        answer, signum = interruptible(solving.run, lambda: solving.so_far(Termination.INTERRUPT))
    picture_of = cache(lambda rank: drawn(design, answer, rank))
    stored, not_stored = None, None
    faults = (OSError, OutputError)  # the answer is shown all the same
    if save:
        with signals.held():
            from solver.batch.store.runs import save_run

            try:
                stored = save_run(results, text, answer, {"command": "solve"}, picture_of(1))
            except faults as fault:
                not_stored = fault
        signum = signals.came()
    with nullcontext() if stored is None else signals.ending(f"stored as {stored}"):
        if picture is not None:
            svg = picture_of((show or [1])[0])
            if svg is None:
                count = len(answer.solutions)
                print(
                    f"{picture}: not drawn; {f'there are {count} solutions' if count else 'nothing fits'}",
                    file=sys.stderr,
                )
            else:
                try:
                    with output("--picture", picture, force) as stream:
                        stream.write(svg.encode())
                    print(f"drawn as {picture}", file=sys.stderr)
                except faults as fault:
                    not_stored = fault
        try:
            if as_json:
                sys.stdout.write(answer.to_json())
            else:
                print_answer(Paper(sys.stdout), design, answer, show or (1,))
            sys.stdout.flush()
        except OSError as fault:
            if stored is not None:
                raise OSError(fault.errno, f"{fault.strerror}; the run is stored as {stored}", fault.filename) from None
            raise
        if not_stored is not None:
            raise not_stored
        if stored is not None:
            print(f"stored as {stored}", file=sys.stderr)
    raise typer.Exit(exit_code(answer, signum))


@app.command(epilog="Example: ringwright explain hall.toml")
def explain(
    file: FileArgument,
    as_json: Annotated[bool, typer.Option("--json", help="Print the explanation as one JSON document.")] = False,
) -> None:
    """Say why nothing fits, and the least loosening that is enough.

    Names the smallest set of limits that cannot be met together, and for each limit that is enough alone the least
    loosening, confirmed by solving the file with it. The file itself is not changed.
    """
    from solver.cli.other_tables import print_explanation
    from solver.cli.tables import Paper
    from solver.design.design import Design
    from solver.files.load import data_of, read_text
    from solver.search.stop import Deadline, FirstOf, Termination
    from solver.search.why.explain import Explaining

    text = read_text(file)
    limit = Design.parse(text, str(file)).time_limit_s
    explaining = Explaining(data_of(text, str(file)), str(file))
    explanation, signum = interruptible(
        lambda interrupt: explaining.run(FirstOf(interrupt, Deadline(limit))),
        lambda: explaining.so_far(Termination.INTERRUPT),
    )
    if as_json:
        sys.stdout.write(json.dumps(explanation.plain(), indent=1, ensure_ascii=False) + "\n")
    else:
        print_explanation(Paper(sys.stdout), explanation)
    sys.stdout.flush()
    if signum is not None:
        raise typer.Exit(128 + signum)
    if explanation.termination != "proved":
        raise typer.Exit(EXIT_LIMIT)


@app.command(epilog="Examples: ringwright audit train.toml   ringwright audit train.toml --place --best")
def audit(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A file with a table [train].", show_default=False)],
    place: Annotated[bool, typer.Option("--place", help="Look for places where everything fits.")] = False,
    best: Annotated[bool, typer.Option("--best", help="Solve the file's design too, and compare.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print the audit as one JSON document.")] = False,
) -> None:
    """Judge a train that you have: its rates, sense and errors, what collides and by how much.

    Also every number you state that its teeth do not give. The file is a design file with a table [train]; a limit
    that it does not state is none. Exit codes: 0 nothing wrong, 3 a rule is broken or a stated number is not right.
    """
    from solver.cli.audit import run_audit

    raise typer.Exit(run_audit(file, as_json, place, best))


@app.command(epilog="Examples: ringwright sweep moons.toml   ringwright sweep moons.toml --dry-run")
def sweep(
    file: Annotated[
        Path,
        typer.Argument(metavar="FILE", help="A sweep file; with --status also a run's folder.", show_default=False),
    ],
    results: RunsOption = RESULTS,
    name: Annotated[str | None, typer.Option(help="What the run is called, instead of the file's own name.")] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Count the points, estimate the time, solve none.")
    ] = False,
    status: Annotated[bool, typer.Option("--status", help="Say how far the run is.")] = False,
    extend: Annotated[
        bool, typer.Option("--extend", help="Take a file that has changed: keep what is solved, solve what is new.")
    ] = False,
    again: Annotated[bool, typer.Option("--again", help="Solve stopped and failed points once more.")] = False,
    mend: Annotated[bool, typer.Option("--mend", help="Put damaged files aside and make good what they held.")] = False,
    workers: Annotated[int | None, typer.Option(min=1, max=1024, help="Solves at a time; as many as cores.")] = None,
    cluster: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", help='Solve on the workers of a Dask scheduler, or "local" for one made here.'),
    ] = None,
) -> None:
    """Solve every point of a sweep file, and store them as one run; called again, go on with it.

    A point is stored as soon as it is solved, so a sweep can be ended at any moment, in any way. Exit codes: 0 all
    solved, 4 some stopped by a limit, failed or left, 75 another process is at work on the run.
    """
    from solver.cli.sweep import Choice, print_plan, print_status, run_file

    if name is not None and (not name.strip(". ") or "/" in name or "\\" in name or shown(name) != name):
        raise Usage(f"--name {shown(name)}: must be the name of a folder, without slashes or signs that are not seen")
    if dry_run and status:
        raise Usage("--dry-run, --status: choose one")
    choice = Choice(results, extend, again, mend, workers, cluster)
    if status:
        raise typer.Exit(print_status(file, name, results))
    raise typer.Exit(print_plan(file, name, choice) if dry_run else run_file(file, name, choice))


@app.command(epilog="Example: ringwright rank runs/results/* --by jigs,error --most error=1 --top 5")
def rank(
    runs: RunArguments,
    by: Annotated[
        str, typer.Option(help="Rank keys in order, with commas: error, parts, jigs, teeth, largest, envelope.")
    ] = "error,parts",
    most: Annotated[
        list[str] | None, typer.Option(metavar="KEY=VALUE", help="Keep only solutions up to this value; repeatable.")
    ] = None,
    where: Annotated[
        list[str] | None,
        typer.Option(
            metavar="FIELD=VALUE", help="Keep only designs that say this, like bodies.set=saturn; repeatable."
        ),
    ] = None,
    front: Annotated[
        str | None, typer.Option(metavar="KEYS", help="Keep only what no other solution beats in all of these keys.")
    ] = None,
    top: Annotated[int, typer.Option(min=1, help="How many to show.")] = 10,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV instead of a table.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document instead of a table.")] = False,
    parquet: Annotated[Path | None, typer.Option(metavar="FILE", help="Write what is shown as Parquet too.")] = None,
    plot: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw error against parts of all that is kept, as SVG.")
    ] = None,
    force: ForceOption = False,
) -> None:
    """Filter and order the solutions of stored runs, solved designs and sweeps alike.

    Exit code 4: some of the runs are missing or damaged; they are named, and the others are ranked.
    """
    from solver.batch.ranking import COLUMN, most_of, where_of
    from solver.cli.rank import RankChoice, run_rank

    keys = [_rank_key(word.strip(), COLUMN) for word in by.split(",")]
    limits = {}
    for word in most or []:
        try:
            key, limit = most_of(word)
            limits[_rank_key(key, COLUMN)] = limit
        except ValueError:
            raise Usage(f"--most {word}: needs a number; write it like error=1.5") from None
    said = []
    for word in where or []:
        try:
            said.append(where_of(word))
        except ValueError:
            raise Usage(
                f"--where {word}: needs a field of the design file and a value; write it like bodies.set=saturn"
            ) from None
    beaten_in = [_rank_key(word.strip(), COLUMN) for word in front.split(",")] if front else []
    if as_csv and as_json:
        raise Usage("--csv, --json: choose one")
    form = "csv" if as_csv else "json" if as_json else "table"
    raise typer.Exit(run_rank(runs, RankChoice(keys, limits, said, beaten_in, top, form, parquet, plot, force)))


def _rank_key(word: str, known: dict[str, str]) -> str:
    if word not in known:
        raise Usage(f'"{word}" is no rank key{suggestion(word, known) or "; the keys are " + ", ".join(known)}')
    return word


@app.command(epilog="Examples: ringwright rerun runs/results/RUN   ringwright rerun runs/results/SWEEP --best 3")
def rerun(
    run: RunArgument,
    point: Annotated[
        list[str] | None,
        typer.Option(metavar="ID", help="Of a sweep: this point, by the beginning of its name; repeatable."),
    ] = None,
    best: Annotated[int | None, typer.Option(min=1, metavar="N", help="Of a sweep: the N best points.")] = None,
    every: Annotated[bool, typer.Option("--all", help="Of a sweep: all points.")] = False,
    workers: Annotated[int | None, typer.Option(min=1, max=1024, help="Solves at a time; as many as cores.")] = None,
) -> None:
    """Solve a stored run again and compare.

    Prints "identical", or what differs (then exit code 1). What a limit had stopped is not compared.
    """
    from solver.batch.sweep.run import is_sweep
    from solver.cli.rerun import rerun_design, rerun_sweep

    chosen = sum((bool(point), best is not None, every))
    if not is_sweep(run):
        if chosen:
            raise Usage(f"--point, --best, --all: choose among the points of a sweep, and {run} is none")
        raise typer.Exit(rerun_design(run))
    if chosen != 1:
        raise Usage("a sweep: choose which points with --point ID, --best N or --all")
    raise typer.Exit(rerun_sweep(run, point or [], best, workers))


@app.command(
    epilog="Examples: ringwright sheets hall.toml --out hall   ringwright sheets runs/results/RUN --rank 2 --out hall"
)
def sheets(
    source: Annotated[
        Path, typer.Argument(metavar="RUN|FILE", help="Folder of a stored run, or a design file.", show_default=False)
    ],
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write: a new folder.", show_default=False)],
    rank: Annotated[int, typer.Option(min=1, help="Which solution.")] = 1,
    paper: Annotated[str, typer.Option(metavar="[a4|letter|a3]", help="The size of the pages.")] = "a4",
    both_units: Annotated[bool, typer.Option("--both-units", help="Tell lengths in mm and in inches.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over sheets that are there already.")] = False,
) -> None:
    """Write the sheets to build from: lists, templates 1:1, drawings, build order, cautions.

    DIR/index.html shows all of it. A design file is solved first. The folder is written whole or not at all.
    """
    from solver.cli.sheets import PAPERS, run_sheets

    if paper not in PAPERS:
        raise Usage(f"--paper {paper}{suggestion(paper, PAPERS) or ': choose ' + ', '.join(PAPERS)}")
    code = run_sheets(source, rank, out, paper, both_units, force)
    raise typer.Exit(code)


@app.command(epilog="Example: ringwright serve --data runs/service")
def serve(
    host: Annotated[
        str, typer.Option(help="The address to listen at. Another than this machine's own needs a token.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="The port; 0 for one that is free.")] = 8137,
    data: Annotated[Path, typer.Option(metavar="DIR", help="Where jobs are stored.")] = Path("runs/service"),
    name: Annotated[
        list[str] | None,
        typer.Option(metavar="HOST", help="A name under which the service may be asked; repeatable."),
    ] = None,
    token_file: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A file that holds the token to ask for; else the environment's RINGWRIGHT_TOKEN."
        ),
    ] = None,
    access_log: Annotated[
        bool, typer.Option("--access-log", help="Say each request on standard error, without query and headers.")
    ] = False,
    proxy: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ADDRESS",
            help="A proxy, by address or network, whose X-Forwarded-Proto and -For are believed; repeatable.",
        ),
    ] = None,
    most_points: Annotated[int, typer.Option(min=1, max=1_000_000, help="Points that one job may have.")] = 10_000,
    most_jobs: Annotated[int, typer.Option(min=1, max=1_000_000, help="Jobs that may be open.")] = 1_000,
    solve_seconds: Annotated[float, typer.Option(min=0.1, max=1e6, help="How long a point may be solved.")] = 600.0,
    solve_memory: Annotated[
        int, typer.Option(min=256, max=1 << 20, metavar="MB", help="How much memory a point may use.")
    ] = 4096,
    workers: Annotated[int | None, typer.Option(min=1, max=1024, help="Solves at a time; as many as cores.")] = None,
) -> None:
    """Serve designs and sweeps over HTTP, with a page to submit them and to watch the model turn.

    Jobs are stored in one folder, go on after a restart, and are solved in processes of their own. Ctrl-C ends the
    service and keeps everything.
    """
    from dataclasses import replace

    from solver.cli.serve import run_serve
    from solver.service.limits import Limits

    limits = Limits(most_points=most_points, most_jobs=most_jobs, solve_seconds=solve_seconds, memory_mb=solve_memory)
    if workers is not None:
        limits = replace(limits, workers=workers)
    proxies = tuple(proxy or ())
    raise typer.Exit(run_serve(host, port, data, tuple(name or ()), token_file, access_log, proxies, limits))


@app.command(epilog="Example: ringwright schema answer > answer.schema.json")
def schema(
    what: Annotated[
        str,
        typer.Argument(
            metavar="[design|answer|audit|sweep]", help="Of a design file, an answer, an audit file or a sweep file."
        ),
    ] = "design",
) -> None:
    """Print a JSON Schema.

    Of the design file, of the answer that solve --json prints, of the file with a table [train] that audit takes, or of
    the sweep file.
    """
    from pydantic import TypeAdapter

    from solver.answer.document import Answer
    from solver.batch.sweep.file import SweepFile
    from solver.files.schema import DesignFile
    from solver.files.train_schema import MeshTrainFile, RingTrainFile

    kinds: dict[str, Any] = {
        "design": DesignFile,
        "answer": Answer,
        "audit": RingTrainFile | MeshTrainFile,
        "sweep": SweepFile,
    }
    if what not in kinds:
        raise Usage(f'no schema "{what}"{suggestion(what, kinds) or "; choose design, answer, audit or sweep"}')
    schema = TypeAdapter(kinds[what]).json_schema(mode="serialization" if what == "answer" else "validation")
    document = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
    sys.stdout.write(json.dumps(document, indent=1) + "\n")


def main() -> None:
    """The command `ringwright`, see `solver.__main__`."""
    from solver.__main__ import main as command

    command()


def run() -> NoReturn:
    """Run the words of the command line; never shows a traceback for what a user can mend."""
    code = _code_of(lambda: int(app(standalone_mode=False) or 0))
    signals.finish(_code_of(streams.flush) or code)


_WRONG_WORDS: type[Exception] = typer.BadParameter.mro()[2]  # click's, whether it comes with typer or beside it


def _usage(fault: Any) -> int:
    if any("\n" in word for word in sys.argv):  # else its lines are click's own
        fault.message = shown(fault.message)
    fault.show(sys.stderr)
    return int(fault.exit_code)


def _code_of(work: Callable[[], int | None]) -> int:
    """What `work` returns as an exit code, 0 for None; or that of the fault that it raises, which is told."""
    from solver.batch.errors import ClusterError, StoreError
    from solver.batch.store.lock import Busy
    from solver.service.errors import ServiceError
    from solver.sheets.errors import SheetsError

    try:
        return work() or 0
    except DesignError as fault:
        for complaint in fault.complaints:
            print(complaint, file=sys.stderr)
        return EXIT_INPUT
    except StoreError as fault:
        for line in fault.args:
            print(line, file=sys.stderr)
        return EXIT_INPUT
    except (ClusterError, ServiceError, SheetsError, Usage) as fault:
        print(fault, file=sys.stderr)
        return EXIT_INPUT
    except Busy as fault:
        print(fault, file=sys.stderr)
        return EXIT_BUSY
    except _WRONG_WORDS as fault:
        return _usage(fault)
    except OSError as fault:
        name = f"{fault.filename}: " if fault.filename else ""
        print(f"{name}{fault.strerror or fault}", file=sys.stderr)
        return EXIT_INPUT
    except Exception:  # noqa: BLE001 - the one place where a fault inside becomes an exit code
        traceback.print_exc()
        print("failure inside Ringwright: please report the lines above with the design file", file=sys.stderr)
        return EXIT_FAULT
