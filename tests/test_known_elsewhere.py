"""What other runs in the same folder know is found without reading those that know nothing of it."""

from __future__ import annotations

import pytest
from sweeping import BASE

from solver.batch.store.errors import StoreError
from solver.batch.sweep import known, peek
from solver.batch.sweep.file import sweep_of
from solver.batch.sweep.known import known_elsewhere
from solver.batch.sweep.sweeps import opened, run_sweep
from solver.batch.sweep.table import JOBS
from solver.batch.sweep.workers import LocalWorkers

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def runs(tmp_path_factory):
    """Three finished runs of two points each, of which no two are the same."""
    folder = tmp_path_factory.mktemp("known")
    with LocalWorkers(2) as workers:
        for number in range(3):
            text = BASE + f"[vary]\nrings.inner_teeth = [{20 + 2 * number}, {21 + 2 * number}]\n"
            sweep = sweep_of(text, "f", f"run{number}")
            with opened(sweep, folder, print) as (own, table):
                assert run_sweep(own, table, sweep, workers, lambda event: None).complete
    return folder


def points(folder) -> set[str]:
    return {row["point_id"] for row in known.load_sweep(folder).points}


def test_only_a_run_that_has_what_is_wanted_is_read(runs, monkeypatch):
    wanted = points(runs / "run1")
    read = []
    real = known.table_files
    monkeypatch.setattr(known, "table_files", lambda folder: read.append(folder.name) or real(folder))
    found = list(known_elsewhere(runs, runs / "other", wanted | {"0" * 64}))
    assert {point for point, _, _ in found} == wanted and {run for _, run, _ in found} == {"run1"}
    assert read == ["run1"]


def test_without_its_table_of_jobs_a_finished_run_is_still_known(runs, tmp_path):
    wanted = points(runs / "run2")
    for damage in (lambda path: path.unlink(), lambda path: path.write_bytes(b"no table at all")):
        table = runs / "run2" / JOBS
        kept = table.read_bytes()
        damage(table)
        try:
            assert {point for point, _, _ in known_elsewhere(runs, runs / "other", wanted)} == wanted
        finally:
            table.write_bytes(kept)


def test_many_points_are_looked_for_as_well_as_few(runs):
    wanted = points(runs / "run0")
    assert peek.solved_in(runs / "run0", wanted | {f"{n:064x}" for n in range(5000)}) == wanted
    assert peek.solved_in(runs / "run0", {next(iter(wanted)), "0" * 64}) < wanted
    assert peek.solved_in(runs / "run0", set()) == set()
    with pytest.raises(StoreError, match=r"nothing/jobs.sqlite: "):
        peek.counts_in(runs / "nothing")
