"""The command `model`: a design as a CP-SAT model, in the solver's own exchange format."""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from solver.batch.store.output import output, refuse_output
from solver.cli.exits import EXIT_INFEASIBLE, EXIT_OK, Usage
from solver.cli.line import tell
from solver.design.errors import single, so_many
from solver.design.toothing import is_open
from solver.files.load import parse_design
from solver.files.text import read_text
from solver.search.prove.model import DesignModel, NoRings

ENDINGS = (".txt", ".pb")


def run_model(file: Path, out: Path, force: bool) -> int:
    """Write the model of a design file, the first rank key to be minimised; the exit code. Raises DesignError, Usage,
    OutputError and OSError."""
    if out.suffix not in ENDINGS:
        raise Usage(f"--out {out}: must end in .txt for text or in .pb for the binary form")
    design = parse_design(read_text(file), str(file))
    if is_open(design):
        told = 'the model is of one toothing of third gears: write third = "pins" or third = "teeth"'
        raise single("wire.third", design.wire.third, told, str(file))
    refuse_output("--out", out, force, file)
    tell("stating the rules")
    try:
        model = DesignModel(design.without_places())
    except NoRings:
        print(f"{file}: the rings leave nothing to choose; nothing fits, and no model is needed", file=sys.stderr)
        return EXIT_INFEASIBLE
    model.tell_trains_apart()
    key = design.rank[0]
    model.train.model.minimize(model.measure(key))
    proto = model.train.close()
    tell(f"writing {so_many(len(proto.proto.variables), 'variable')}, {so_many(len(proto.proto.constraints), 'rule')}")
    with tempfile.TemporaryDirectory() as folder:
        written = Path(folder) / f"model{out.suffix}"
        proto.export_to_file(str(written))
        data = written.read_bytes()
    with output("--out", out, force) as stream:
        stream.write(data)
    count = len(proto.proto.variables), len(proto.proto.constraints)
    unit = f" in units of 1/{model.scale} of a natural logarithm" if key == "error" else ""
    print(
        f"wrote {out}: {so_many(count[0], 'variable')}, {so_many(count[1], 'constraint')}; "
        f"minimises {'ln(1 + worst error)' if key == 'error' else key}{unit}",
        file=sys.stderr,
    )
    if design.fit.directions is not None or design.drive is not None:
        print("note: the model is of teeth alone; places and the drive are not in it", file=sys.stderr)
    return EXIT_OK
