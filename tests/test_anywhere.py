"""From what is stored to anywhere: designs of runs and points, and commands that take a run, a point or a file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from commands import forked, run
from sweeping import BASE, call, write

from solver import parse_design, solve
from solver.batch.chosen import best_points
from solver.batch.sweep.run import load_sweep

HALL = BASE.replace('[fit]\ndirections = "none"\n', "").replace("keep = 3", "keep = 2")
STEPS = "[vary]\nrings.inner_teeth = [22, 24, 26, 28]\n"
NOTED = "# The hall's own model, as the joiner wants it: \u00e6\u00f8\u00e5\n" + HALL.replace(
    "[rings]", "[rings] # all of steel"
)


@pytest.fixture(scope="module")
def place(tmp_path_factory) -> Path:
    """A folder with a design file, its run, and a sweep of four points."""
    folder = tmp_path_factory.mktemp("anywhere")
    write(folder, NOTED, "hall.toml")
    write(folder, f"{HALL}{STEPS}", "halls.toml")
    assert call("solve", "hall.toml", cwd=folder)[0] == 0
    assert call("sweep", "halls.toml", "--workers", "1", cwd=folder)[0] == 0
    (alone,) = (path for path in (folder / "runs/results").iterdir() if path.name != "halls")
    alone.rename(folder / "runs/results/alone")
    return folder


pytestmark = pytest.mark.slow  # each begins a sweep, or uses one
ALONE, HALLS = "runs/results/alone", "runs/results/halls"


def by_hand(texts: list[str], *figures: str) -> list[str]:
    """The hashes of these designs, those first whose best solution has the least figures: each is solved here."""
    answers = [solve(parse_design(text)) for text in texts]
    ranked = sorted(answers, key=lambda one: [getattr(one.solutions[0], name) for name in figures])
    return [one.config_sha256 for one in ranked]


def sha256_of(text: str) -> str:
    return parse_design(text).sha256()


# -- the design --------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_the_design_of_a_run_is_the_file_as_it_was_written(place):
    assert run("design", ALONE, cwd=place) == (0, NOTED, "")


@pytest.mark.deep
@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "utf-16"])
def test_a_design_is_written_as_it_is_whatever_the_terminals_encoding(place, encoding):
    assert forked("design", ALONE, cwd=place, encoding=encoding) == (0, NOTED.encode(), b"")


def test_signs_that_are_not_seen_stay_in_the_file(tmp_path):
    """A terminal is not shown them raw; in a literal string of TOML they cannot be written out."""
    text = HALL.replace('title = "Three moons of Saturn"', "title = 'left \u202e right'\t# tabbed")
    write(tmp_path, text, "odd.toml")
    assert run("solve", "odd.toml", cwd=tmp_path)[0] == 0
    (folder,) = (tmp_path / "runs/results").iterdir()
    code, out, _ = run("design", str(folder), cwd=tmp_path)
    assert (code, out) == (0, text) and parse_design(out).title == "left \u202e right"


def test_the_design_of_every_point_solves_to_the_answer_that_is_stored(place):
    stored = load_sweep(place / HALLS)
    for point in stored.points:
        code, out, err = run("design", HALLS, "--point", point["point_id"][:9].upper(), cwd=place)
        assert (code, err) == (0, "") and sha256_of(out) == point["config_sha256"]
        answer = solve(parse_design(out))
        assert answer.config_sha256 == point["config_sha256"]
        assert answer.solutions[0].worst_error_pct == point["best_worst_error_pct"]


def test_the_best_points_are_those_that_solving_each_by_hand_gives(place):
    texts = [HALL.replace("inner_teeth = 24", f"inner_teeth = {inner}") for inner in (22, 24, 26, 28)]
    wanted = by_hand(texts, "worst_error_pct", "parts")
    found = [sha256_of(run("design", HALLS, "--best", str(number), cwd=place)[1]) for number in (1, 2, 3, 4)]
    assert found == wanted and len(set(found)) == 4


@pytest.mark.deep
def test_a_sweep_is_ordered_by_the_rank_keys_of_its_designs(tmp_path):
    base = HALL + 'rank = ["teeth", "error"]\n'
    write(tmp_path, base + STEPS, "halls.toml")
    assert call("sweep", "halls.toml", "--workers", "1", cwd=tmp_path)[0] == 0
    texts = [base.replace("inner_teeth = 24", f"inner_teeth = {inner}") for inner in (22, 24, 26, 28)]
    found = [point["config_sha256"] for point in best_points(load_sweep(tmp_path / HALLS))]
    assert found == by_hand(texts, "teeth", "worst_error_pct") != by_hand(texts, "worst_error_pct", "teeth")


@pytest.mark.deep
def test_where_the_rank_is_varied_error_and_parts_order(tmp_path):
    write(tmp_path, HALL + STEPS + 'search.rank = [["teeth"], ["error"]]\n', "halls.toml")
    assert call("sweep", "halls.toml", "--workers", "1", cwd=tmp_path)[0] == 0
    points = best_points(load_sweep(tmp_path / HALLS))
    errors = [point["best_worst_error_pct"] for point in points]
    assert len(points) == 8 and errors == sorted(errors)


def test_the_note_names_the_point_and_what_is_varied_in_it(place):
    first = best_points(load_sweep(place / HALLS))[0]
    (inner,) = json.loads(first["settings"]).values()
    _, _, err = run("design", HALLS, "--best", "1", cwd=place)
    assert err == f"note: --best 1 is point {first['point_id'][:12]}: rings.inner_teeth = {inner}\n"


def test_a_design_is_written_to_a_file_and_over_one_only_with_force(place, tmp_path):
    out = tmp_path / "again.toml"
    code, shown, err = run("design", ALONE, "--out", str(out), cwd=place)
    assert (code, shown, err) == (0, "", f"wrote {out}; next: ringwright solve {out}\n") and out.read_text() == NOTED
    out.write_text("mine")
    code, _, err = run("design", ALONE, "--out", str(out), cwd=place)
    assert (code, out.read_text()) == (2, "mine") and err.count("\n") == 1 and "exists already" in err
    assert run("design", ALONE, "--out", str(out), "--force", cwd=place)[0] == 0 and out.read_text() == NOTED


@pytest.mark.deep
def test_a_point_that_is_not_solved_has_a_design_all_the_same(tmp_path):
    """Nothing fits it, so that there is no solution to make sheets of."""
    write(tmp_path, HALL + "max_error_pct = 0\n[vary]\nrings.inner_teeth = [24]\n", "halls.toml")
    call("sweep", "halls.toml", "--workers", "1", cwd=tmp_path)
    (point,) = load_sweep(tmp_path / HALLS).points
    name = point["point_id"]
    assert sha256_of(run("design", HALLS, "--point", name, cwd=tmp_path)[1]) == point["config_sha256"]
    point = f"{HALLS} --point {name[:12]}"
    told = f"{HALLS}: point {name[:12]} is proven to have no solution; ringwright explain {point} says why\n"
    for words in (("sheets", "--out", "x"), ("setting", "--date", "2026-12-24"), ("teeth",)):
        assert run(words[0], HALLS, *words[1:], "--point", name, cwd=tmp_path) == (2, "", told)
    told = f"--best 1: {HALLS} has 0 points with a solution\n"
    assert run("design", HALLS, "--best", "1", cwd=tmp_path) == (2, "", told)


@pytest.mark.parametrize("kind", ["run", "point"])
def test_a_design_that_this_version_reads_otherwise_is_refused(place, tmp_path, monkeypatch, kind):
    """It would not solve to the stored answer."""
    from solver.design.design import Design

    monkeypatch.setattr(Design, "sha256", lambda self: "0" * 64)
    words = (ALONE,) if kind == "run" else (HALLS, "--best", "1")
    code, out, err = run("design", *words, cwd=place)
    assert (code, out) == (2, "") and "was stored by another version" in err.splitlines()[-1]


# -- commands that take any --------------------------------------------------------------------------------------------


def point_of(place: Path, inner: int) -> str:
    (found,) = (
        point["point_id"]
        for point in load_sweep(place / HALLS).points
        if json.loads(point["settings"]) == {"rings.inner_teeth": inner}
    )
    return found


def test_setting_of_file_run_and_point_is_one(place):
    told = [
        run("setting", *words, "--date", "2026-12-24", "--rank", "2", "--json", cwd=place)
        for words in (("hall.toml",), (ALONE,), (HALLS, "--point", point_of(place, 24)))
    ]
    assert told[0] == told[1] == told[2] and told[0][0] == 0 and json.loads(told[0][1])["rank"] == 2


def test_explain_of_file_run_and_point_is_one(place):
    told = [run("explain", *words, cwd=place) for words in (("hall.toml",), (ALONE,))]
    told.append(run("explain", HALLS, "--point", point_of(place, 24), cwd=place))
    assert told[0] == told[1] == told[2] == (0, "something fits: there is nothing to explain\n", "")


@pytest.mark.deep
def test_a_point_that_nothing_fits_is_explained_as_its_file_is(tmp_path):
    file = HALL.replace("[search]", "[search]\nmax_jigs = 2")
    write(tmp_path, file, "hall.toml")
    write(tmp_path, file + "[vary]\nrings.inner_teeth = [24]\n", "halls.toml")
    call("sweep", "halls.toml", "--workers", "1", cwd=tmp_path)
    (point,) = load_sweep(tmp_path / HALLS).points
    code, out, err = run("explain", HALLS, "--point", point["point_id"], cwd=tmp_path)
    assert point["status"] == "infeasible" and "max_jigs" in out
    assert (code, out, err) == run("explain", "hall.toml", cwd=tmp_path)


def test_proofs_of_file_run_and_point_are_one(place):
    told = []
    for words in (("hall.toml",), (ALONE,), (HALLS, "--point", point_of(place, 24))):
        code, out, _ = run("prove", *words, "--json", cwd=place)
        document = json.loads(out)
        assert code == 0 and ("point" in document) == (words[0] == HALLS)
        told.append(document["proofs"])
    assert told[0] == told[1] == told[2] != []


def test_a_file_is_solved_and_ranked_with_what_is_stored(place):
    def rows(*words: str) -> list[dict]:
        code, out, err = run("rank", *words, "--json", "--top", "100", cwd=place)
        assert (code, err) == (0, "")
        return json.loads(out)["solutions"]

    name = point_of(place, 24)
    file, alone, point = rows("hall.toml"), rows(ALONE), rows(HALLS, "--point", name[:12])
    assert {one["run"] for one in file} == {"hall.toml"} and {one["point"] for one in point} == {name}

    def bare(found: list[dict]) -> list[dict]:
        return [{key: one[key] for key in one if key not in ("run", "point", "settings")} for one in found]

    assert bare(file) == bare(alone) == bare(point) != []
    both = rows("hall.toml", HALLS)
    errors = [one["solution"]["worst_error_pct"] for one in both]
    assert len(both) == len(file) + len(rows(HALLS)) and errors == sorted(errors)


def test_what_is_no_design_among_what_is_ranked_is_named_and_the_rest_ranked(place):
    code, out, err = run("rank", ALONE, "halls.toml", "nowhere", cwd=place)
    assert code == 4 and "alone" in out
    assert [line.split(":")[0] for line in err.splitlines()] == ["halls.toml", "nowhere"]


FAULTS = [
    (("sheets", HALLS, "--out", "x"), f"{HALLS}: a sweep; choose one of its points with --point ID or --best N"),
    (("design", HALLS), f"{HALLS}: a sweep; choose one of its points with --point ID or --best N"),
    (("explain", HALLS), f"{HALLS}: a sweep; choose one of its points with --point ID or --best N"),
    (("teeth", HALLS), f"{HALLS}: a sweep; choose one of its points with --point ID or --best N"),
    (("design", HALLS, "--point", "0", "--best", "1"), "--point, --best: choose one"),
    (("design", HALLS, "--point", "zz"), "--point zz: no point's name begins so"),
    (("rank", HALLS, "--point", "zz"), "--point zz: no point's name begins so"),
    (("design", HALLS, "--best", "5"), f"--best 5: {HALLS} has 4 points with a solution"),
    (("design", "hall.toml"), "hall.toml: a file, and no stored run; copy it"),
    (("design", "nowhere"), "nowhere: not a stored run (it has no run.json)"),
    (("design", ALONE, "--out", f"{ALONE}/new.toml"), "is a stored run, and nothing else is written there"),
    *(
        (
            (command, source, option, value, *more),
            f"{option}: chooses among the points of a sweep, and {source} is none",
        )
        for command, more in (("sheets", ("--out", "x")), ("explain", ()), ("setting", ()), ("teeth", ()))
        for source in ("hall.toml", ALONE)
        for option, value in (("--point", "a"), ("--best", "1"))
    ),
    (("prove", "hall.toml", "--point", "a"), "--point: chooses among the points of a sweep, and hall.toml is none"),
    (("prove", ALONE, "--point", "a"), f"--point: chooses among the points of a sweep, and {ALONE} is none"),
    (("rank", ALONE, "hall.toml", "--point", "a"), "--point: chooses among the points of a sweep, and none is given"),
]


@pytest.mark.parametrize(("words", "message"), FAULTS, ids=[" ".join(words) for words, _ in FAULTS])
def test_what_cannot_be_is_said_in_a_line(place, words, message):
    code, out, err = run(*words, cwd=place)
    assert (code, out) == (2, "") and message in err and err.count("\n") == 1
    assert not (place / "x").exists()


# -- sheets ------------------------------------------------------------------------------------------------------------


def sheets_of(folder: Path) -> dict[str, bytes]:
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    return {name: path.read_bytes() for name, path in found.items()}


@pytest.mark.deep
def test_from_a_sweep_of_a_hundred_points_to_sheets_of_the_third_best_and_back(tmp_path):
    """In one command; its design is edited then, and solved."""
    varied = "[vary]\nrings.inner_teeth = {min = 18, max = 42}\nrings.tooth_step = [4, 5, 6, 7]\n"
    write(tmp_path, HALL + varied, "halls.toml")
    assert call("sweep", "halls.toml", cwd=tmp_path)[0] == 0
    stored = load_sweep(tmp_path / HALLS)
    assert len(stored.points) == 100
    found = [point for point in stored.points if point["best_parts"] is not None]
    third = sorted(found, key=lambda one: (one["best_worst_error_pct"], one["best_parts"], one["ordinal"]))[2]
    code, _, err = run("sheets", HALLS, "--best", "3", "--out", "x", cwd=tmp_path)
    assert code == 0 and third["point_id"][:12] in err
    assert run("design", HALLS, "--best", "3", "--out", "third.toml", cwd=tmp_path)[0] == 0
    assert run("sheets", "third.toml", "--out", "y", cwd=tmp_path)[0] == 0
    assert sheets_of(tmp_path / "x") == sheets_of(tmp_path / "y")
    assert run("sheets", HALLS, "--point", third["point_id"], "--out", "z", cwd=tmp_path)[0] == 0
    assert sheets_of(tmp_path / "z") == sheets_of(tmp_path / "x")
    text = (tmp_path / "third.toml").read_text()
    step = json.loads(third["settings"])["rings.tooth_step"]
    edited = text.replace(f"tooth_step = {step}", f"tooth_step = {step + 4}")
    assert edited != text
    (tmp_path / "edited.toml").write_text(edited)
    code, out, err = run("solve", "edited.toml", "--no-save", "--json", cwd=tmp_path)
    assert code in (0, 3) and json.loads(out)["config_sha256"] == sha256_of(edited) != third["config_sha256"], err
