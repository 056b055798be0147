"""The commands as a user at a shell meets them."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import tomllib
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import jsonschema
import pytest
from commands import CONFIGS, LONG, run, run_afresh, start, until_it_searches
from shipped import PLAIN, shipped

from solver import load_design, parse_design, solve
from solver.design.hardware import Bench
from solver.design.supports import Supports
from solver.files.body_sets import body_sets
from solver.files.template import design_template
from solver.forms.form import sizes_of
from solver.search.stop import Interrupt, Termination, WorkLimit

COMMANDS = ("new", "design", "bodies", "solve", "explain", "audit", "sweep", "rank", "rerun", "schema")


def without_report(text: str) -> str:
    head, mark, _ = text.partition('"report":')
    assert mark
    return head


@pytest.mark.slow
def test_help_names_every_command_and_shows_examples(tmp_path):
    code, out, _ = run("--help", cwd=tmp_path)
    assert code == 0 and all(command in out for command in COMMANDS)
    for command in COMMANDS:
        code, out, _ = run(command, "--help", cwd=tmp_path)
        assert code == 0 and "xample" in out, command


@pytest.mark.slow
def test_the_table_says_what_a_maker_needs(tmp_path):
    code, out, err = run_afresh("solve", str(CONFIGS / "saturn-hall.toml"), cwd=tmp_path)
    assert code == 0
    for word in ("Iapetus", "blank 2", "18/14", "0.5739", "same", "proven best: worst error 0.5739 %"):
        assert word in out, word
    assert err.startswith("stored as runs/results/saturn-s-large-moons")
    assert "\x1b" not in out + err  # colour only on a terminal


@pytest.mark.deep
def test_json_is_one_document_the_same_bytes_each_time_and_valid(tmp_path):
    words = ("solve", str(CONFIGS / "saturn-hall.toml"), "--json", "--no-save")
    code, first, err = run_afresh(*words, cwd=tmp_path)
    assert code == 0 and err == ""
    _, second, _ = run_afresh(*words, cwd=tmp_path)
    assert without_report(first) == without_report(second)
    answer = json.loads(first)
    _, schema, _ = run_afresh("schema", "answer", cwd=tmp_path)
    validator = jsonschema.Draft202012Validator(json.loads(schema))
    validator.validate(answer)
    with pytest.raises(jsonschema.ValidationError):
        validator.validate({**answer, "status": "perhaps"})
    assert answer["schema"] == "ringwright.solutions/1"
    assert list(answer) == [
        "schema", "title", "config_sha256", "status", "termination", "proven", "bound_worst_error_pct", "solutions",
        "third_toothing",
        "report",
    ]  # fmt: skip
    best = answer["solutions"][0]
    assert best["rings"][1] == {
        "name": "Enceladus", "blank": False, "teeth": 34, "ratio": [51, 35], "target": "685109/471211",
        "error_pct": pytest.approx(0.220803, abs=1e-6),
        "period_error_pct": pytest.approx(0.220803, abs=1e-6), "sense": "same", "rollers": best["rings"][1]["rollers"],
    }  # fmt: skip
    assert [len(ring["rollers"]) for ring in best["rings"]] == [3] * 10
    radius = (30 + 18) * 20 / (2 * 3.141592653589793)  # of the first arbor, which stands to the right
    assert best["links"][0]["arbor"] == {
        "direction_deg": 0.0, "radius_mm": pytest.approx(radius, abs=5e-4),
        "x_mm": pytest.approx(radius, abs=5e-4), "y_mm": 0.0,
    }  # fmt: skip
    assert best["drive"]["body"] == "Titan" and best["drive"]["seconds"] == pytest.approx(40, rel=0.02)


AUDITED = frozenset(CONFIGS.glob("audit-*.toml"))
SWEPT = frozenset(CONFIGS.glob("sweep-*.toml"))


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "files", "wrong"),
    [
        ("design", frozenset(CONFIGS.glob("*.toml")) - AUDITED - SWEPT, {"bodies": {"set": "saturn"}, "ring": {}}),
        ("sweep", SWEPT, {"bodies": {"set": "saturn"}, "limits": {"points": 0}}),
        ("audit", AUDITED, {"train": {"rings": [24, 30]}}),
        ("audit", AUDITED, {"train": {"meshes": [{"driver": "a", "driven": "b", "teeth": [0, 9]}]}}),
    ],
)
def test_the_schemas_take_the_files_that_ship(what, files, wrong, tmp_path):
    _, out, _ = run("schema", what, cwd=tmp_path)
    validator = jsonschema.Draft202012Validator(json.loads(out))
    assert files
    for file in files:
        validator.validate(tomllib.loads(file.read_text(encoding="utf-8")))
    with pytest.raises(jsonschema.ValidationError):
        validator.validate(wrong)


@pytest.mark.slow
def test_a_place_for_runs_and_none_to_store_contradict_each_other(tmp_path):
    words = ("solve", str(PLAIN / "four-gears.toml"), "--no-save", "--results", "elsewhere")
    code, out, err = run(*words, cwd=tmp_path)
    assert (code, out) == (2, "")
    assert err == "--results: nothing is stored with --no-save; leave out one of them\n"


def test_new_writes_a_design_that_solves(tmp_path):
    code, out, err = run("new", "--title", "a\udcff", cwd=tmp_path)
    assert (code, out, err) == (2, "", "--title a\\udcff: must be text that UTF-8 can hold\n")
    code, out, err = run("new", "hall.toml", "--bodies", "jupiter", "--title", 'The "great" hall', cwd=tmp_path)
    assert (code, out) == (0, "") and "ringwright solve hall.toml" in err
    code, out, _ = run("solve", "hall.toml", cwd=tmp_path)
    assert code == 0 and 'The "great" hall' in out and "Callisto" in out
    code, _, err = run("new", "hall.toml", cwd=tmp_path)
    assert (code, err) == (2, "hall.toml: exists already; choose another name, or write over it with --force\n")


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize("name", sorted(body_sets()))
def test_new_offers_a_valid_design_for_every_set(name, units):
    design = parse_design(design_template(bodies=name, units=units))
    assert len(design.bodies) == len(body_sets()[name].periods)
    # Half an inch is 12.7 mm: the sizes stay those of hand-bent wire.
    assert 12 <= design.rings.pitch.value <= Fraction(127, 10)


def test_every_line_of_the_template_is_valid_once_its_mark_is_removed():
    lines = design_template().splitlines()
    own = [line[2:] for line in lines if line.startswith("# ")][3:8]  # from [[bodies.list]] on
    assert own[0].startswith("[[bodies.list]]") and own[-1].startswith("sense")
    for period in (own[2], own[3]):
        design = parse_design("\n".join([*lines, own[0], own[1], period, own[4]]))
        assert any(body.name == "Own body" for body in design.bodies)
    alone = (
        "only", "sense =", "stock", "reverted", "max_parts", "frame", "directions", "plate", "post_radius", "stands",
        "rollers", "unevenness",
    )  # fmt: skip
    wire = next(index for index, line in enumerate(lines) if line.startswith("[wire]"))
    for index, line in enumerate(lines[:wire]):
        if line.startswith(tuple(f"# {word}" for word in alone)):
            parse_design("\n".join([*lines[:index], line[2:], *lines[index + 1 :]]))
    drive = next(index for index, line in enumerate(lines) if line.startswith("# [drive]"))
    told = parse_design(
        "\n".join([*lines[:drive], *(line[2:] for line in lines[drive : drive + 5]), *lines[drive + 5 :]])
    )
    assert told.drive is not None and told.drive.turn is not None
    end = lines.index("", wire)
    table = [line.removeprefix("# ") for line in lines[wire:end]]
    whole = {line.split()[0] for line in table}
    bent = [line for line in table if not line.startswith("sheet")]
    assert {"[wire]", "form", "stock", "loop", "tooth", "pin", "jig_pin", "sheet"} < whole
    usual = parse_design("\n".join(lines))
    assert usual.wired and usual.wire == parse_design('[bodies]\nset = "saturn"\n').wire  # the defaults
    told = parse_design("\n".join([*lines[:wire], *bent, *lines[end:]]))
    follow = {"pin_length": None, "arbor_diameter": None, "hub_diameter": None}  # unless told, from other lengths
    assert replace(told.wire, **follow) == usual.wire
    for name in ("pin_length_mm", "arbor_mm", "hub_mm"):
        given, due = (getattr(sizes_of(design), name) for design in (told, usual))
        assert due <= given <= due + 0.2, name
    sheet = next(line for line in table if line.startswith("sheet"))
    cut = "\n".join([*lines[:wire], "[wire]", 'form = "involute"', sheet, *lines[end:]])
    assert parse_design(cut).wire.form == "involute"
    for unit in ("mm", "in"):
        some = design_template(units=unit).splitlines()
        bought = next(index for index, line in enumerate(some) if line.startswith("# [hardware]"))
        plate = next(index for index, line in enumerate(some) if line.startswith('# plate = "inner"'))
        some[plate] = some[plate].removeprefix("# ")
        full = parse_design("\n".join([*some[:bought], *(line.removeprefix("# ") for line in some[bought:])]))
        assert full.hardware is not None and full.hardware.label is not None and len(full.hardware.prices) == 2
        assert full.bench == Bench() and dict(full.hardware.bodies).keys() == {"Titan"}
    begin = next(index for index, line in enumerate(lines) if line.startswith("# [supports]"))
    held = [line.removeprefix("# ") for line in lines[begin : lines.index("", begin)]]
    frame = next(index for index, line in enumerate(lines) if line.startswith("# frame"))
    supported = parse_design("\n".join([*lines[:frame], lines[frame][2:], *lines[frame + 1 : begin], *held]))
    assert supported.supports == Supports(sag_mm=Fraction("1.1")) and len(held) == 7  # the defaults, but for sag
    teeth = next(line for line in lines if line.startswith("# teeth"))[2:]
    three = '[bodies]\nset = "saturn"\nonly = ["Mimas", "Tethys", "Titan"]\n[rings]\n'
    assert parse_design(three + teeth).rings.teeth == ((24,), (30, 32), tuple(range(36, 45)))


@pytest.mark.slow
def test_bodies_lists_sets_and_periods(tmp_path):
    _, out, _ = run("bodies", cwd=tmp_path)
    assert all(name in out for name in body_sets())
    _, out, _ = run("bodies", "trappist-1", cwd=tmp_path)
    assert "18.7667066" in out and "Agol" in out and "days" in out


def test_body_sets_name_their_source():
    for entry in body_sets().values():
        assert entry.source and entry.unit == "days" and len(entry.periods) >= 4
        periods = [period for _, period in entry.periods]
        assert periods == sorted(set(periods))


@pytest.mark.slow
def test_infeasible_is_proven_and_said(tmp_path):
    text = (CONFIGS / "saturn-hall.toml").read_text().replace("keep = 10", "max_error_pct = 0.5")
    (tmp_path / "tight.toml").write_text(text)
    code, out, err = run("solve", "tight.toml", cwd=tmp_path)
    assert code == 3 and "proven: no solution meets these limits" in out and err.startswith("stored as")


@pytest.mark.slow
def test_a_time_limit_is_said_and_never_called_proof(tmp_path):
    (tmp_path / "long.toml").write_text(LONG.replace("100000", "0.001"))
    code, out, _ = run("solve", "long.toml", "--json", cwd=tmp_path)
    answer = json.loads(out)
    assert code == 4 and answer["status"] in ("unknown", "feasible") and answer["proven"] is False
    assert answer["termination"] == "time"
    code, out, _ = run("solve", "long.toml", cwd=tmp_path)
    assert code == 4 and "time_limit_s struck" in out and "proven best" not in out


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="needs Linux's /proc to see when to strike")
@pytest.mark.parametrize(
    ("number", "code"),
    [
        (signal.SIGINT, 130),
        pytest.param(signal.SIGTERM, 143, marks=pytest.mark.deep),
        pytest.param(signal.SIGHUP, 129, marks=pytest.mark.deep),
    ],
)
def test_an_interrupt_gives_what_is_known(number, code, tmp_path):
    (tmp_path / "long.toml").write_text(LONG)
    process = start("solve", "long.toml", "--json", "--picture", "long.svg", cwd=tmp_path)
    until_it_searches(process)
    process.send_signal(number)
    out, err = process.communicate(timeout=60)
    answer = json.loads(out)
    assert process.returncode == code
    assert err.startswith("long.svg: not drawn, no solution was found so far; stored as ") and err.count("\n") == 1
    assert answer["proven"] is False and answer["termination"] == "interrupt"


@pytest.mark.deep
def test_a_search_that_did_not_end_has_bounded_away_nothing_that_is_known():
    design = load_design(CONFIGS / "saturn-hall.toml")
    before, whole = solve(design, lambda: Termination.INTERRUPT).report, solve(design).report
    assert before["structures"] == whole["structures"] and before["structures_listed"] == 0
    assert before["structures_bounded_away"] is None
    assert whole["structures_bounded_away"] == whole["structures"] - whole["structures_listed"]


@pytest.mark.deep
def test_an_interrupt_after_a_find_keeps_it():
    """The best so far is judged and returned when the search is stopped before its proof."""
    interrupt = Interrupt()

    def strike(progress):
        if progress.best_error is not None:
            interrupt.set()

    text = (PLAIN / "saturn-full-range.toml").read_text().replace("keep = 10", "keep = 300")
    answer = solve(parse_design(text), interrupt, strike)
    assert answer.status == "feasible" and not answer.proven
    proven = shipped("saturn-full-range")[1].solutions[0].worst_error_pct
    assert answer.bound_worst_error_pct <= proven <= answer.solutions[0].worst_error_pct


@pytest.mark.slow
def test_rank_orders_filters_and_writes_csv(tmp_path):
    for folder, name in ((CONFIGS, "saturn-hall"), (PLAIN, "solar-system-plain"), (PLAIN, "solar-system-3-thirds")):
        run("solve", str(folder / f"{name}.toml"), cwd=tmp_path)
    runs = [str(folder) for folder in sorted((tmp_path / "runs" / "results").iterdir())]
    code, out, _ = run("rank", *runs, "--by", "jigs,error", "--most", "error=4.5", "--top", "4", "--csv", cwd=tmp_path)
    rows = list(csv.DictReader(io.StringIO(out)))
    keys = [(int(row["jigs"]), float(row["worst_error_pct"])) for row in rows]
    assert code == 0 and len(rows) == 4 and keys == sorted(keys) and all(error <= 4.5 for _, error in keys)
    code, out, _ = run("rank", *runs, "--top", "3", cwd=tmp_path)
    assert code == 0 and "Stored solutions" in out and "A: Saturn's large moons, entrance hall (proven)" in out
    thirds = next(name for name in runs if "3-thir" in name)
    _, out, _ = run("rank", thirds, "--top", "1", cwd=tmp_path)
    assert "15/8p5 19/14w5" in out and "third gear of 5 teeth at the pinion" in out and "reverse" in out
    _, out, _ = run("rank", thirds, "--top", "1", "--csv", cwd=tmp_path)
    row = next(csv.DictReader(io.StringIO(out)))
    assert row["links"].startswith("15/8p5 19/14w5") and row["ring_teeth"].startswith("18 24 30")
    assert row["reverse_rings"] == "1 7 8 9"
    code, out, err = run("rank", *runs, "--most", "error=0", cwd=tmp_path)
    assert (code, out, err) == (0, "", "no stored solution is within these limits\n")


@pytest.mark.slow
def test_output_into_a_closed_pipe_is_no_fault(tmp_path):
    process = start("bodies", cwd=tmp_path)
    process.stdout.close()
    with process.stderr as stream:
        assert stream.read() == ""
    assert process.wait(60) == -signal.SIGPIPE


@pytest.mark.slow
def test_the_front_and_the_leading_key_are_shown(tmp_path):
    code, out, _ = run("solve", str(CONFIGS / "saturn-few-jigs.toml"), "--no-save", cwd=tmp_path)
    assert code == 0
    assert "Front of error and jigs: no other solution is better in one without being worse in another" in out
    assert "ranks beyond 5 stand on the front alone, behind the ranked list" in out
    assert "proven best by jigs, then error: worst error 1.0056 %, 37 parts, 20 jigs" in out


@pytest.mark.deep
def test_a_stopped_search_by_another_key_says_what_it_knows():
    """Stopped after any number of questions: sound, never claimed to be proven, bounds below the truth."""
    text = (CONFIGS / "saturn-few-jigs.toml").read_text().replace('front = ["error", "jigs"]\n', "")
    design = parse_design(text)
    for calls in (10, 300, 1000, 3000, 10_000, 30_000):
        answer = solve(design, WorkLimit(calls))
        if not answer.proven:
            assert answer.status in ("feasible", "unknown") and answer.termination == "work"
            assert (answer.least_first_key or 0) <= 20 and answer.bound_worst_error_pct <= 0.574
            assert all(one.jigs >= 20 for one in answer.solutions)


@pytest.mark.deep
def test_a_picture_is_never_drawn_over_anything_else(tmp_path):
    file = tmp_path / "hall.toml"
    file.write_bytes((CONFIGS / "saturn-hall.toml").read_bytes())
    for name in ("hall.toml", "-"):
        code, out, err = run("solve", "hall.toml", "--no-save", "--picture", name, cwd=tmp_path)
        assert (code, out) == (2, "") and len(err.splitlines()) == 1 and "--picture" in err
    assert file.read_bytes() == (CONFIGS / "saturn-hall.toml").read_bytes()
    for force in ((), ("--force",)):  # over a picture it is drawn again
        assert run("solve", "hall.toml", "--no-save", "--picture", "hall.svg", *force, cwd=tmp_path)[0] == 0
    code, out, err = run("solve", "hall.toml", "--no-save", "--picture", "none/hall.svg", cwd=tmp_path)
    assert (code, out, err) == (2, "", "--picture none/hall.svg: there is no folder none\n")


@pytest.mark.deep
def test_a_solution_that_is_not_there_is_missed(tmp_path):
    words = ("solve", str(CONFIGS / "saturn-hall.toml"), "--no-save", "--show", "1", "--show", "99")
    code, out, err = run(*words, cwd=tmp_path)
    assert code == 2 and "proven best" in out and err == "--show 99: there are 10 solutions\n"


def test_what_is_not_drawn_is_not_said_to_be_impossible(tmp_path):
    text = (PLAIN / "saturn-full-range.toml").read_text().replace("[search]", "[search]\ntime_limit_s = 0.001")
    (tmp_path / "any.toml").write_text(text)
    code, _, err = run("solve", "any.toml", "--no-save", "--picture", "a.svg", cwd=tmp_path)
    assert code == 4 and err == "a.svg: not drawn, no solution was found so far\n"


def test_the_next_command_can_be_pasted(tmp_path):
    for name, told in (("my hall.toml", "'my hall.toml'"), ("-x.toml", "./-x.toml")):
        code, _, err = run("new", "--", name, cwd=tmp_path)
        assert code == 0 and err.endswith(f"ringwright solve {told}\n")
    for name in ("two\nlines.toml", "it's\t\\ a \u202e hall.toml", "no\udcfftext.toml"):
        code, _, err = run("new", "--", name, cwd=tmp_path)
        assert code == 0 and err.count("\n") == 1
        word = err.rpartition("ringwright solve ")[2]
        pasted = subprocess.run(["bash", "-c", f"printf %s {word}"], capture_output=True, check=True).stdout
        assert pasted == os.fsencode(name)
