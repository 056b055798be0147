"""The commands. Each reads its words, calls one function that a Python user could call, and prints the result."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated, Any

import typer

from solver import __version__
from solver.cli.exits import Usage
from solver.cli.line import words_line
from solver.cli.words import (
    BestOption,
    FileArgument,
    ForceOption,
    PointOption,
    PointsOption,
    RankWords,
    RunArgument,
    ServeWords,
    SettingWords,
    SolveWords,
    SourceArgument,
    SweepWords,
    taking,
)
from solver.design.errors import suggestion
from solver.words.papers import PAPERS
from solver.words.shown import pasted, shown

app = typer.Typer(
    name="ringwright",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


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
    from solver.files.load import parse_design
    from solver.files.template import design_template

    only = ", ".join(f'"{name}"' for name, _ in _body_set(bodies).periods[:3])
    if units not in ("mm", "in"):
        raise Usage(f"--units {units}: choose mm or in")
    if any("\ud800" <= char <= "\udfff" for char in title):
        raise Usage(f"--title {title}: must be text that UTF-8 can hold")
    text = design_template(title, bodies, only, units, sys.stdout.encoding if file is None else "utf-8")
    parse_design(text, "--title")
    if file is None:
        print(text, end="")
        return
    with output("", file, force) as stream:
        stream.write(text.encode())
    print(f"wrote {file}; next: ringwright solve {pasted(file)}", file=sys.stderr)


@app.command(
    epilog="Examples: ringwright design runs/results/RUN > hall.toml   "
    "ringwright design runs/results/SWEEP --best 3 --out hall.toml"
)
@words_line("reading")
def design(
    run: RunArgument,
    point: PointOption = None,
    best: BestOption = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where to write; without it, to standard output.")
    ] = None,
    force: ForceOption = False,
) -> None:
    """Give the design file of a stored run, or of a point of a stored sweep, as it was stored.

    Solved as it is, it gives the stored answer again.
    """
    from solver.cli.design import run_design
    from solver.cli.source import PointChoice

    raise typer.Exit(run_design(run, PointChoice(point or (), best), out, force))


@app.command(
    epilog="Examples: ringwright hold runs/results/RUN --links 0-4 > next.toml   "
    "ringwright hold runs/results/SWEEP --best 3 --links all --out next.toml"
)
@words_line("reading")
def hold(
    source: SourceArgument,
    links: Annotated[
        str, typer.Option(metavar="LINKS", help="Which links stay, like 0-4, 0,2,5 or all.", show_default=False)
    ],
    rank: Annotated[int, typer.Option(min=1, help="Which solution.")] = 1,
    free_places: Annotated[
        bool, typer.Option("--free-places", help="Leave open where the arbors of these links stand.")
    ] = False,
    point: PointOption = None,
    best: BestOption = None,
    out: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Where to write; without it, to standard output.")
    ] = None,
    force: ForceOption = False,
) -> None:
    """Keep part of a solution, and leave the rest of its design open.

    Gives the design file with these links in its table [made], the rings beside them, and who rides there; what is kept
    costs no jig and no new gear. Where their arbors stand is kept too, in fit.link. Solved, it gives the best of all
    that has that part. A design file is solved first.
    """
    from solver.cli.hold import run_hold
    from solver.cli.source import PointChoice

    raise typer.Exit(run_hold(source, PointChoice(point or (), best), rank, links, free_places, out, force))


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
@words_line("reading")
@taking(SolveWords)
def solve(words: SolveWords) -> None:
    """Find the best solutions of a design and prove it.

    The run is stored in runs/results of the folder you are in, unless told otherwise. Ctrl-C gives the best so far.
    """
    from solver.cli.solve import run_solve

    raise typer.Exit(run_solve(words))


@app.command(epilog="Examples: ringwright prove runs/results/RUN   ringwright prove hall.toml --time 10")
@words_line("reading")
def prove(
    source: SourceArgument,
    point: PointsOption = None,
    seconds: Annotated[float, typer.Option("--time", min=0.0, max=1e6, help="Seconds for each answer.")] = 60.0,
    as_json: Annotated[bool, typer.Option("--json", help="Print the proofs as one JSON document.")] = False,
    certificate: Annotated[
        Path | None,
        typer.Option(
            metavar="FOLDER", help="Write a certificate that others can check there instead.", show_default=False
        ),
    ] = None,
    certify: Annotated[
        bool, typer.Option("--certify", help="The same, and keep it with the stored run or point.")
    ] = False,
) -> None:
    """Have a general solver, given the rules alone, confirm that nothing is better.

    CP-SAT is told nothing that the search found but the values to beat, and asked for anything better under each rank
    key in turn, and on the front. A design file is solved first. Exit codes: 0 confirmed, 4 not settled in time, 1 it
    found something better, which is then shown.

    With --certificate each step of a proof, of the teeth and by another solver, is written into a folder that
    `ringwright check` and others can check without trusting anybody.
    """
    if certificate is not None or certify:
        from solver.cli.certificate import run_certificate

        raise typer.Exit(run_certificate(source, point or [], certificate, certify, seconds, as_json))
    from solver.cli.prove import run_prove

    raise typer.Exit(run_prove(source, point or [], seconds, as_json))


@app.command(epilog="Examples: ringwright check FOLDER   ringwright check FOLDER --design hall.toml")
@words_line("reading")
def check(
    folder: Annotated[Path, typer.Argument(metavar="FOLDER", help="A certificate.")],
    design: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Also: that it is of this design file.", show_default=False)
    ] = None,
) -> None:
    """Check a certificate, step by step, without any solver.

    Exit codes: 0 it holds, 1 it does not, and which step and line, 2 it cannot be read.
    """
    from solver.cli.certificate import run_check

    raise typer.Exit(run_check(folder, design))


@app.command(epilog="Example: ringwright model hall.toml --out hall.txt")
@words_line("reading")
def model(
    file: FileArgument,
    out: Annotated[
        Path, typer.Option(metavar="NAME", help="Where to write: .txt is text, .pb binary.", show_default=False)
    ],
    force: ForceOption = False,
) -> None:
    """Write a design as a CP-SAT model, in that solver's own format, for other programs to solve.

    The model is of the teeth; the first rank key is what it minimises.
    """
    from solver.cli.model import run_model

    raise typer.Exit(run_model(file, out, force))


@app.command(epilog="Examples: ringwright explain hall.toml   ringwright explain hall.toml --take 1 > looser.toml")
@words_line("reading")
def explain(
    source: SourceArgument,
    point: PointOption = None,
    best: BestOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print the explanation as one JSON document.")] = False,
    take: Annotated[
        int | None, typer.Option(min=1, metavar="N", help="Print the design file with the N-th loosening instead.")
    ] = None,
) -> None:
    """Say why nothing fits, and the least loosening that is enough.

    Names limits that cannot be met together, none of which can be left out, and for each limit that is enough alone the
    least loosening, confirmed by solving the design with it. What takes more than some seconds is left open, and said
    to be. The file itself is not changed: --take prints it loosened, comments and all.
    """
    from solver.cli.explain import run_explain

    raise typer.Exit(run_explain(source, point or (), best, as_json, take))


@app.command(epilog="Examples: ringwright audit train.toml   ringwright audit train.toml --place --best")
@words_line("reading")
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
@taking(SweepWords)
def sweep(words: SweepWords) -> None:
    """Solve every point of a sweep file, and store them as one run; called again, go on with it.

    A point is stored as soon as it is solved, so a sweep can be ended at any moment, in any way. Exit codes: 0 all
    solved, 4 some stopped by a limit, failed or left, 75 another process is at work on the run.
    """
    from solver.cli.sweep import print_plan, print_status, run_file

    name = words.name
    if name is not None and (not name.strip(". ") or "/" in name or "\\" in name or shown(name) != name):
        raise Usage(f"--name {shown(name)}: must be the name of a folder, without slashes or signs that are not seen")
    if words.dry_run and words.status:
        raise Usage("--dry-run, --status: choose one")
    if words.dry_run or words.status:
        for option, told in (("--again", words.again), ("--mend", words.mend), ("--cluster", words.cluster)):
            if told:
                raise Usage(f"{option}: nothing is solved with {'--dry-run' if words.dry_run else '--status'}")
    run = print_status if words.status else print_plan if words.dry_run else run_file
    raise typer.Exit(run(words))


@app.command(epilog="Example: ringwright rank runs/results/* --by jigs,error --most error=1 --top 5")
@words_line("reading")
@taking(RankWords)
def rank(words: RankWords) -> None:
    """Filter and order the solutions of stored runs, of designs and sweeps alike. A design file is solved first.

    Exit code 4: some of the runs are missing or damaged; they are named, and the others are ranked.
    """
    from solver.cli.rank import choice_of, run_rank

    raise typer.Exit(run_rank(words.runs, choice_of(words)))


@app.command(epilog="Examples: ringwright rerun runs/results/RUN   ringwright rerun runs/results/SWEEP --best 3")
@words_line("reading")
def rerun(
    run: RunArgument,
    point: PointsOption = None,
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
    if not chosen:
        raise Usage(f"{run}: a sweep; choose which points with --point ID, --best N or --all")
    if chosen > 1:
        raise Usage("--point, --best, --all: choose one")
    raise typer.Exit(rerun_sweep(run, point or [], best, workers))


@app.command(
    epilog="Examples: ringwright sheets hall.toml --out hall   ringwright sheets runs/results/SWEEP --best 3 --out hall"
)
@words_line("reading")
def sheets(
    source: SourceArgument,
    out: Annotated[Path, typer.Option(metavar="DIR", help="Where to write: a new folder.", show_default=False)],
    point: PointOption = None,
    best: BestOption = None,
    rank: Annotated[int, typer.Option(min=1, help="Which solution.")] = 1,
    paper: Annotated[str, typer.Option(metavar=f"[{'|'.join(PAPERS)}]", help="The size of the pages.")] = "a4",
    both_units: Annotated[bool, typer.Option("--both-units", help="Tell lengths in mm and in inches.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Write over sheets that are there already.")] = False,
) -> None:
    """Write the sheets to build from: lists, templates 1:1, drawings, build order, cautions.

    DIR/index.html shows all of it. A design file is solved first. The folder is written whole or not at all.
    """
    from solver.cli.sheets import run_sheets
    from solver.cli.source import PointChoice

    chosen = PointChoice(point or (), best)
    code = run_sheets(source, chosen, rank, out, paper, both_units, force)
    raise typer.Exit(code)


@app.command(epilog="Examples: ringwright teeth hall.toml   ringwright teeth runs/results/RUN --most-addendum 4")
@words_line("reading")
def teeth(
    source: SourceArgument,
    point: PointOption = None,
    best: BestOption = None,
    most_addendum: Annotated[
        float | None, typer.Option(metavar="LENGTH", help="The largest addendum, in the file's unit.")
    ] = None,
    most_rim: Annotated[
        float | None, typer.Option(metavar="LENGTH", help="The largest rim, in the file's unit.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print it as one JSON document.")] = False,
) -> None:
    """Propose teeth with which the best solution runs most evenly, and solve the design with them.

    Addendum, rim and jig pins, with every mesh before and after, and what teeth bent to the best curve would do: the
    best that was found, not proven. Exit code 4: a limit stopped the search before it was settled what is best then.
    """
    from solver.cli.source import PointChoice
    from solver.cli.teeth import run_teeth

    raise typer.Exit(run_teeth(source, PointChoice(point or (), best), most_addendum, most_rim, as_json))


@app.command(epilog="Example: ringwright setting runs/results/RUN --date 2026-12-24T18:00+01:00")
@words_line("reading")
@taking(SettingWords)
def setting(words: SettingWords) -> None:
    """Say where each body stands at a date, and the angle of its ring seen from the front.

    By mean longitudes, which rings that turn evenly show, or by true ones. A design file is solved first.
    """
    from solver.sky.extra import need_sky

    need_sky()
    from solver.cli.setting import run_setting

    raise typer.Exit(run_setting(words))


@app.command(epilog="Example: ringwright serve --data runs/service")
@taking(ServeWords)
def serve(words: ServeWords) -> None:
    """Serve designs and sweeps over HTTP, with a page to submit them and to watch the model turn.

    Jobs are stored in one folder, go on after a restart, and are solved in processes of their own. Ctrl-C ends the
    service and keeps everything, also what solves under way have found; its jobs go on at the next start.
    """
    from solver.cli.serve import run_serve

    raise typer.Exit(run_serve(words))


@app.command(epilog="Example: ringwright schema answer > answer.schema.json")
def schema(
    what: Annotated[
        str,
        typer.Argument(
            metavar="[design|answer|audit|sweep|setting]",
            help="Of a design file, an answer, an audit file, a sweep file or a setting.",
        ),
    ] = "design",
) -> None:
    """Print a JSON Schema.

    Of the design file, of the answer that solve --json prints, of the file with a table [train] that audit takes, of
    the sweep file, or of what setting --json prints.
    """
    from pydantic import TypeAdapter

    from solver.answer.document import Answer
    from solver.batch.sweep.file import SweepFile
    from solver.files.schema import DesignFile
    from solver.files.train_schema import MeshTrainFile, RingTrainFile
    from solver.sky.document import SettingDocument

    kinds: dict[str, Any] = {
        "design": DesignFile,
        "answer": Answer,
        "audit": RingTrainFile | MeshTrainFile,
        "sweep": SweepFile,
        "setting": SettingDocument,
    }
    if what not in kinds:
        raise Usage(
            f'no schema "{what}"{suggestion(what, kinds) or "; choose design, answer, audit, sweep or setting"}'
        )
    schema = TypeAdapter(kinds[what]).json_schema(
        mode="serialization" if what in ("answer", "setting") else "validation"
    )
    document = {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
    sys.stdout.write(json.dumps(document, indent=1) + "\n")
