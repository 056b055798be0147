"""Jobs: what is one, what is refused, what is kept, and how far one is."""

from __future__ import annotations

import json
import threading
import time
from contextlib import closing
from dataclasses import asdict
from decimal import Decimal

import pytest
import tomli_w
from sweeping import BASE, HARD, PATIENCE_S, RICH, SMALL

from solver import parse_design
from solver.batch.sweep.file import sweep_of
from solver.design.errors import DesignError
from solver.files.text import data_of
from solver.service.errors import CheckFailed, NoSuchJob, NoSuchSolution, NotNow, TooMany, TooSlow
from solver.service.jobs.job import JobView
from solver.service.jobs.jobs import Jobs
from solver.service.kept.documents import json_data, meant
from solver.service.kept.results import RankQuery
from solver.service.limits import ServiceLimits
from solver.service.processes import checker
from solver.service.processes.checkers import Checkers

LIMITS = ServiceLimits(solve_seconds=1e6)


@pytest.fixture
def jobs(tmp_path):
    with Jobs(tmp_path / "data", LIMITS) as jobs:
        yield jobs


def until(jobs: Jobs, job: str, good) -> JobView:
    """Wait for a job to be as wished; it as it is then."""
    changed = threading.Event()
    jobs.listen(lambda name: changed.set() if name == job else None)
    while not good(jobs.view(job)):
        assert changed.wait(60)
        changed.clear()
    return jobs.view(job)


def over(jobs: Jobs, job: str) -> JobView:
    return until(jobs, job, lambda view: view.over)


def as_json(text: str) -> str:
    """The same file as JSON, numbers as they were written."""
    return json.dumps(data_of(text, ""), default=lambda number: float(number))


# -- what is meant -----------------------------------------------------------------------------------------------------


def test_a_design_is_called_by_its_hash():
    found = meant(BASE, "toml", None, LIMITS)
    assert (found.kind, found.job) == ("design", parse_design(BASE).sha256()[:16])
    assert [point.config_sha256 for point in found.sweep.points] == [parse_design(BASE).sha256()]


def test_json_means_what_toml_means():
    for text in (BASE, SMALL, HARD):
        told, again = meant(text, "toml", None, LIMITS), meant(as_json(text), "json", None, LIMITS)
        assert (told.job, told.kind, told.title) == (again.job, again.kind, again.title)
        assert {point.id for point in told.sweep.points} == {point.id for point in again.sweep.points}


def test_numbers_of_json_are_read_exactly():
    text = '{"bodies": {"list": [{"name": "A", "period": 1.0000000000000000001}, {"name": "B", "period": 3e0}]}}'
    data = json_data(text)
    assert data["bodies"]["list"][0]["period"] == Decimal("1.0000000000000000001")
    design = parse_design(meant(text, "json", None, LIMITS).text)
    assert str(design.bodies[0].low) == "10000000000000000001/10000000000000000000"


def test_comments_and_order_do_not_make_another_job_but_a_field_does():
    job = meant(BASE, "toml", None, LIMITS).job
    assert meant("# a comment\n" + BASE, "toml", None, LIMITS).job == job
    assert meant(tomli_w.dumps(data_of(BASE, "")), "toml", None, LIMITS).job == job
    assert meant(BASE.replace("keep = 3", "keep = 4"), "toml", None, LIMITS).job != job


def test_other_wire_is_another_job_since_its_sheets_differ():
    wired, other = BASE + "[wire]\n", BASE + "[wire]\nkerf = 0.5\n"
    jobs = {meant(text, "toml", None, LIMITS).job for text in (BASE, wired, other)}
    assert len(jobs) == 3


def test_a_sweep_is_known_by_its_tables_and_its_points_are_those_of_the_command():
    found = meant(SMALL, "toml", None, LIMITS)
    assert found.kind == "sweep"
    assert [p.id for p in found.sweep.points] == [p.id for p in sweep_of(SMALL, "", "x").points]
    assert meant(SMALL + "[limits]\npoint_s = 7\n", "toml", None, LIMITS).job != found.job


def test_places_are_told_of():
    assert not meant(BASE, "toml", None, LIMITS).places
    assert meant(BASE.replace('directions = "none"', "directions = 24"), "toml", None, LIMITS).places
    varied = BASE + '[vary]\nfit.directions = ["none", 24]\n'
    assert meant(varied, "toml", None, LIMITS).places
    assert not meant(SMALL, "toml", None, LIMITS).places


@pytest.mark.parametrize(
    ("text", "field", "said"),
    [
        ("", "", "not valid JSON: Expecting value at line 1, column 1"),
        ("[]", "", "must be an object with the tables of a design file"),
        ('"text"', "", "must be an object"),
        ('{"title": null}', "title", "is null; leave out what is not wanted"),
        ('{"title": NaN}', "", "not usable JSON: NaN is no number"),
        ('{"title": -Infinity}', "", "not usable JSON: -Infinity is no number"),
        ('{"title": "a", "title": "b"}', "", 'not usable JSON: "title" stands twice in one object'),
        ('{"rings": {"x": 1, "x": 2}}', "", '"x" stands twice'),
        ("[" * 100_000, "", "nested too deeply"),
        ('{"a":' * 100_000, "", "nested too deeply"),
        ('{"rings": {"inner_teeth": ' + "9" * 5000 + "}}", "", "a number has too many digits"),
        ('{"title": "\\ud800"}', "title", "has characters that cannot be printed"),
        ('{"title": "a\\u0000b"}', "title", "has characters that cannot be printed"),
        ('{"\\u0000": 1}', "", "has characters that cannot be printed"),
        ('{"title": "\\u001b[31m"}', "title", "has characters that cannot be printed"),
        ('{"title": "\\uffff"}', "title", "has characters that cannot be printed"),
        ('{"base": {"bodies": {"set": "saturn"}}, "vary": {"rings.blanks": [0]}}', "base",
         "is no table; the tables of the design stand at the top"),
        ('{"base": "/etc/passwd", "vary": {}}', "base", "names a file, and none is opened here"),
        ('{"bodies": {"set": "../../etc/passwd"}}', "bodies.set", "no set of that name"),
        ('{"bodies": {"set": "satrun"}}', "bodies.set", 'did you mean "saturn"?'),
        ('{"bodies": {"set": "saturn"}, "search": {"time_limit_s": 2e6}}', "search.time_limit_s", "at most"),
        ('{"bodies": {"set": "saturn"}, "vary": {"rings.blanks": [0, 1], "search.time_limit_s": [1, 2e6]}}',
         "search.time_limit_s", "must be at most 1e+06 s here"),
        ('{"bodies": {"set": "saturn"}, "vary": {"rings.blanks": [0]}, "limits": {"point_s": 2e6}}',
         "limits.point_s", "must be at most 1e+06 s here"),
    ],
)  # fmt: skip
def test_what_is_refused_names_the_field(text, field, said):
    with pytest.raises(DesignError) as fault:
        meant(text, "json", None, LIMITS)
    assert fault.value.complaints[0].field == field
    assert said in str(fault.value)
    assert "\n" not in str(fault.value)


def test_toml_with_characters_that_no_file_can_hold_is_refused():
    with pytest.raises(DesignError, match=r"title = .*cannot be printed"):
        meant('title = "a\\u0000b"\n[bodies]\nset = "saturn"\n', "toml", None, LIMITS)


def test_more_points_than_allowed_are_refused_before_they_are_made():
    text = BASE + "[vary]\n" + "".join(f"rings.x{n} = {{min = 1, max = 1000}}\n" for n in range(8)) + (
        "[limits]\npoints = 1000000\n")  # fmt: skip
    with pytest.raises(DesignError, match=r"limits\.points"):
        meant(text, "toml", None, LIMITS)
    with pytest.raises(DesignError, match="vary: makes 60 points; at most 59 are taken here"):
        meant(SMALL, "toml", None, ServiceLimits(most_points=59))
    assert len(meant(SMALL, "toml", None, ServiceLimits(most_points=60)).sweep.points) == 60


# -- what is kept ------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_a_design_is_solved_and_ranked(jobs):
    view, new = jobs.submit(BASE)
    assert new and view.state == "waiting" and (view.total, view.finished) == (1, 0)
    done = over(jobs, view.id)
    assert (done.state, done.reason, done.finished, done.solutions) == ("complete", None, 1, 3)
    ranked = jobs.ranked(view.id, RankQuery())
    assert ranked.total == 3
    assert ranked.rows[0]["solution"]["worst_error_pct"] == done.best_worst_error_pct
    point = jobs.points(view.id)[0]
    assert point["best"]["worst_error_pct"] == done.best_worst_error_pct
    design, solution = jobs.solution(view.id, point["point"][:12], 1)
    assert design == parse_design(BASE) and solution.worst_error_pct == done.best_worst_error_pct
    assert jobs.text(view.id) == BASE


@pytest.mark.slow
def test_what_means_the_same_is_one_job(jobs):
    first, new = jobs.submit(BASE)
    again, new_again = jobs.submit(as_json(BASE), form="json")
    assert (new, new_again, first.id) == (True, False, again.id)
    assert jobs.listing()[1] == 1


@pytest.mark.slow
def test_sent_many_times_at_once_it_is_one_job(jobs):
    news: list[bool] = []
    threads = [threading.Thread(target=lambda: news.append(jobs.submit(BASE)[1])) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(news) == [False] * 7 + [True]
    assert not list((jobs.data / "new").iterdir())


@pytest.mark.slow
def test_checking_submits_nothing(jobs):
    checked = jobs.check(SMALL)
    assert (checked.kind, checked.points, checked.text) == ("sweep", 60, SMALL)
    assert jobs.listing() == ([], 0)
    assert not list((jobs.data / "jobs").iterdir())


@pytest.mark.slow
def test_a_kind_can_be_asked_for(jobs):
    assert jobs.check(BASE, "design").kind == "design"
    with pytest.raises(DesignError, match="nothing is varied"):
        jobs.check(BASE, "sweep")
    with pytest.raises(DesignError, match="vary: not of this kind of file; ringwright sweep takes it"):
        jobs.check(SMALL, "design")


@pytest.mark.slow
def test_jobs_are_listed_newest_first_over_a_restart(tmp_path):
    texts = [BASE.replace("keep = 3", f"keep = {number}") for number in (1, 2, 4)]
    with Jobs(tmp_path, LIMITS) as jobs:
        names = [jobs.submit(text)[0].id for text in texts]
        assert [view.id for view in jobs.listing()[0]] == names[::-1]
    with Jobs(tmp_path, LIMITS) as jobs:
        assert [view.id for view in jobs.listing()[0]] == names[::-1]
        assert [view.id for view in jobs.listing(1, 1)[0]] == [names[1]]
        fourth = jobs.submit(BASE)[0].id
        assert jobs.listing(0, 1) == ([jobs.view(fourth)], 4)


@pytest.mark.deep
def test_a_long_sweep_does_not_keep_a_design_waiting(jobs):
    sweep = jobs.submit(HARD)[0].id
    until(jobs, sweep, lambda view: view.finished == 2)
    assert over(jobs, jobs.submit(BASE)[0].id).state == "complete"
    assert jobs.view(sweep).state == "solving"
    jobs.stop(sweep)
    stopped = over(jobs, sweep)
    assert (stopped.state, stopped.finished, stopped.points["stopped"]) == ("stopped", 2, 1)


@pytest.mark.slow
def test_a_job_is_stopped_resumed_and_removed(jobs):
    job = jobs.submit(HARD)[0].id
    until(jobs, job, lambda view: view.finished == 2)
    with pytest.raises(NotNow, match="is being solved; stop it first"):
        jobs.remove(job)
    jobs.stop(job)
    jobs.stop(job)
    assert over(jobs, job).state == "stopped"
    assert jobs.stop(job).state == "stopped"
    assert jobs.resume(job).state in ("waiting", "solving")
    until(jobs, job, lambda view: view.points["solving"] == 1)
    jobs.stop(job)
    over(jobs, job)
    jobs.remove(job)
    with pytest.raises(NoSuchJob):
        jobs.view(job)
    with pytest.raises(NoSuchJob):
        jobs.points(job)
    assert jobs.listing() == ([], 0)
    assert not list((jobs.data / "jobs").iterdir()) and not list((jobs.data / "new").iterdir())
    assert jobs.submit(HARD)[1]


@pytest.mark.slow
def test_a_job_that_waits_is_stopped_at_once(tmp_path, monkeypatch):
    monkeypatch.setattr(Jobs, "_take_turns", lambda self: None)  # all wait, however slow the machine is
    with Jobs(tmp_path, LIMITS) as jobs:
        job = jobs.submit(SMALL)[0].id
        assert jobs.stop(job).state == "stopped"
        assert jobs.view(job).points["waiting"] == 60


@pytest.mark.deep
def test_what_was_found_until_a_stop_is_kept_and_solved_again_from_the_start(tmp_path):
    with Jobs(tmp_path, LIMITS) as jobs:
        job = jobs.submit(RICH)[0].id
        for seconds in PATIENCE_S:
            jobs.resume(job)
            until(jobs, job, lambda view: view.points["solving"] == 1)
            time.sleep(seconds)
            jobs.stop(job)
            stopped = over(jobs, job)
            if stopped.best_worst_error_pct is not None:
                break
        assert (stopped.state, stopped.finished, stopped.proven) == ("stopped", 0, False)
        assert stopped.points["stopped"] == 1 and stopped.best_worst_error_pct is not None
        ranked = jobs.ranked(job, RankQuery())
        assert ranked.total == stopped.solutions
        assert ranked.total and {row["status"] for row in ranked.rows} == {"feasible"}
        (point,) = jobs.points(job)
        assert (point["state"], point["reason"], point["proven"]) == ("stopped", "interrupt", False)
    with Jobs(tmp_path, ServiceLimits(solve_seconds=0.5)) as jobs:
        assert jobs.view(job).points == stopped.points
        assert jobs.resume(job).points["waiting"] == 1
        assert jobs.ranked(job, RankQuery()).total, "what was found stays until there is more"
        done = over(jobs, job)
        assert (done.state, done.points["stopped"]) == ("complete", 1)
        assert jobs.points(job)[0]["reason"] == "time: 0.5 s were not enough"


@pytest.mark.deep
def test_what_was_found_until_the_end_of_the_service_is_kept_and_told_before_it_goes_on(tmp_path, monkeypatch):
    for seconds in PATIENCE_S:
        with Jobs(tmp_path, LIMITS) as jobs:
            job = jobs.submit(RICH)[0].id
            until(jobs, job, lambda view: view.points["solving"] == 1)
            time.sleep(seconds)
        with monkeypatch.context() as still:
            still.setattr(Jobs, "_take_turns", lambda self: None)
            with Jobs(tmp_path, LIMITS) as jobs:
                view, ranked = jobs.view(job), jobs.ranked(job, RankQuery(by=("error",)))
                (point,) = jobs.points(job)
        if ranked.total:
            break
    assert (view.state, view.points["waiting"], view.finished, view.proven) == ("waiting", 1, 0, False)
    assert view.best_worst_error_pct == ranked.rows[0]["solution"]["worst_error_pct"]
    assert (point["state"], point["reason"], point["solutions"]) == ("stopped", "interrupt", ranked.total)
    with Jobs(tmp_path, LIMITS) as jobs:
        until(jobs, job, lambda view: view.points["solving"] == 1)
        assert jobs.view(job).best_worst_error_pct is not None
        jobs.stop(job)
        stopped = over(jobs, job)
        assert stopped.solutions == jobs.ranked(job, RankQuery()).total > 0
        jobs.resume(job)
    with Jobs(tmp_path, LIMITS) as jobs:
        assert jobs.view(job).best_worst_error_pct is not None


@pytest.mark.slow
def test_a_complete_job_can_neither_be_stopped_nor_resumed(jobs):
    job = over(jobs, jobs.submit(BASE)[0].id).id
    with pytest.raises(NotNow, match="the job is complete; only one that waits or is being solved"):
        jobs.stop(job)
    with pytest.raises(NotNow, match="the job is complete, and every point is solved"):
        jobs.resume(job)


@pytest.mark.deep
def test_the_time_of_a_point_is_limited_and_a_job_with_stopped_points_can_be_resumed(tmp_path):
    text = HARD.replace("search.time_limit_s = 100000\n", "")
    with Jobs(tmp_path, ServiceLimits(solve_seconds=0.5)) as jobs:
        job = jobs.submit(text)[0].id
        done = over(jobs, job)
        assert (done.state, done.points["stopped"], done.points["solved"]) == ("complete", 1, 2)
        assert "time: 0.5 s were not enough" in {point["reason"] for point in jobs.points(job)}
        version = done.version
        assert jobs.resume(job).points["stopped"] == 1
        again = until(jobs, job, lambda view: view.over and view.version > version)
        assert (again.state, again.points["stopped"]) == ("complete", 1)


@pytest.mark.deep
def test_the_time_of_a_sweep_is_its_own_limit(jobs):
    job = jobs.submit(HARD + "total_s = 2\n")[0].id
    done = over(jobs, job)
    assert (done.state, done.reason) == ("stopped", "limits.total_s = 2 is over")


@pytest.mark.slow
def test_memory_is_limited(tmp_path):
    with Jobs(tmp_path, ServiceLimits(memory_mb=256)) as jobs:
        hard = HARD.replace("search.time_limit_s = 100000", "search.time_limit_s = 20")  # which may come first
        job = jobs.submit(hard + "workers = 1\n")[0].id
        until(jobs, job, lambda view: view.points["solved"] == 2)
        jobs.stop(job)


@pytest.mark.slow
def test_open_jobs_are_limited_but_what_is_one_already_is_found(tmp_path):
    with Jobs(tmp_path, ServiceLimits(most_jobs=1, solve_seconds=1e6)) as jobs:
        job = jobs.submit(HARD)[0].id
        with pytest.raises(TooMany, match="1 jobs are open, and at most 1 are taken") as fault:
            jobs.submit(BASE)
        assert fault.value.limit == 1
        assert jobs.submit(HARD)[1] is False
        assert not list((tmp_path / "new").iterdir())
        jobs.stop(job)
        over(jobs, job)
        other = jobs.submit(BASE)[0].id
        if not jobs.view(other).over:
            with pytest.raises(TooMany):
                jobs.resume(job)


@pytest.mark.deep
def test_what_takes_too_long_to_check_is_refused_and_the_next_is_not(tmp_path):
    grid = "rings.inner_teeth = {min = 20, max = 900}\nsearch.max_parts = {min = 20, max = 1000}\n"
    slow = BASE + f"[vary]\n{grid}[limits]\npoints = 1000000\n"
    with Jobs(tmp_path, ServiceLimits(check_seconds=2.0, most_points=1_000_000)) as jobs:
        with pytest.raises(TooSlow, match="more than 2 s to check"):
            jobs.submit(slow)
        assert jobs.check(BASE).kind == "design"
        assert not list((tmp_path / "new").iterdir())


@pytest.mark.slow
def test_what_is_not_there_is_said_to_be(jobs):
    job = over(jobs, jobs.submit(BASE)[0].id).id
    point = jobs.points(job)[0]["point"]
    for call in (jobs.view, jobs.stop, jobs.resume, jobs.remove, jobs.points, jobs.text):
        with pytest.raises(NoSuchJob, match="there is no job 0000000000000000"):
            call("0" * 16)
    with pytest.raises(NoSuchSolution, match="has no solution 4"):
        jobs.solution(job, point, 4)
    with pytest.raises(NoSuchSolution, match="there is no such point"):
        jobs.solution(job, "0" * 64, 1)


@pytest.mark.slow
def test_results_of_a_job_that_goes_on_are_what_is_there(jobs):
    job = jobs.submit(HARD)[0].id
    until(jobs, job, lambda view: view.finished == 2)
    jobs.stop(job)
    over(jobs, job)
    assert jobs.ranked(job, RankQuery()).total == 6
    assert [point["state"] for point in jobs.points(job)] == ["solved", "solved", "stopped"]
    query = RankQuery(by=("parts", "error"), most={"error": 5.0}, where=(("rings.inner_teeth", "26"),), limit=2)
    found = jobs.ranked(job, query)
    assert {row["settings"]["rings.inner_teeth"] for row in found.rows} == {26} and len(found.rows) <= 2


@pytest.mark.slow
def test_versions_only_grow_over_restarts_and_of_what_is_over_stay(tmp_path):
    seen: dict[str, list[int]] = {}
    with Jobs(tmp_path, LIMITS) as jobs:
        hard, base = jobs.submit(HARD)[0].id, jobs.submit(BASE)[0].id
        jobs.listen(lambda name: seen.setdefault(name, []).append(jobs.view(name).version))
        last = over(jobs, base)
        until(jobs, hard, lambda view: view.finished == 2)
        before = jobs.view(hard).version
    with Jobs(tmp_path, LIMITS) as jobs:
        assert jobs.view(base) == last
        assert jobs.view(hard).version > max(before, *seen[hard])
        jobs.stop(hard)
    assert all(a <= b for one in seen.values() for a, b in zip(one, one[1:]))
    assert jobs.view(hard).version * 1000 < 2**53


@pytest.mark.deep
def test_a_job_of_an_older_program_is_solved_anew(tmp_path, monkeypatch):
    """What was entered by code that answers otherwise goes on with this code, from its text."""
    from solver.batch.sweep.table import JobTable

    with Jobs(tmp_path, LIMITS) as jobs:
        job = jobs.submit(SMALL)[0].id
        until(jobs, job, lambda view: view.finished >= 3)
        jobs.stop(job)
        over(jobs, job)
    table = JobTable(tmp_path / "jobs" / job)
    with table._change() as db:
        db.execute("UPDATE about SET value = 'older' WHERE key = 'answer_version'")
        db.execute("UPDATE points SET answer_version = 'older', id = 'older' || id")
    table.close()
    with Jobs(tmp_path, LIMITS) as jobs:
        jobs.resume(job)
        done = over(jobs, job)
        assert (done.state, done.points["solved"]) == ("complete", 60)
        assert not any(point["point"].startswith("older") for point in jobs.points(job))


def test_a_fault_in_the_check_is_called_what_it_is(monkeypatch, capsys):
    """The checker's process goes on, and its answer says that not the submission is at fault."""

    def broken(*_):
        raise ZeroDivisionError

    monkeypatch.setattr("solver.service.kept.documents.meant", broken)
    asked = {"text": "", "form": "toml", "kind": None, "limits": asdict(LIMITS), "jobs": "", "into": None}
    assert checker._answer(asked) == {"failed": "a fault in the check of submissions (ZeroDivisionError)"}
    assert "Traceback" in capsys.readouterr().err


def test_a_check_whose_process_is_gone_says_so_and_the_next_begins_another(tmp_path):
    with closing(Checkers(LIMITS)) as checkers:
        with checkers._one() as process:
            process.kill()
            with pytest.raises(CheckFailed, match="ended without an answer"):
                checkers._ask(process, {})
        assert checkers.check(BASE, "toml", None, tmp_path, None).points == 1


@pytest.mark.slow
def test_what_is_kept_of_a_removed_job_is_not_told_of_the_one_that_took_its_place(jobs):
    """The same design is the same folder, and may come to the same version."""
    job, _ = jobs.submit(BASE)
    first = over(jobs, job.id)
    assert jobs.answer(job.id, "page", lambda _: b"first") == jobs.kept(job.id, "page") == b"first"
    stale = jobs._results(job.id)
    jobs.remove(job.id)
    again, new = jobs.submit(BASE)
    second = over(jobs, again.id)
    assert new and again.id == job.id
    jobs._cache._found[jobs.folder(job.id), 1] = (second.version, 0.0, stale)  # a reader who came late
    assert first.over and jobs.kept(job.id, "page") is None
    assert jobs.answer(job.id, "page", lambda _: b"second") == b"second"


@pytest.mark.slow
def test_answers_that_are_asked_for_again_and_again_stay(jobs):
    job, _ = jobs.submit(BASE)
    over(jobs, job.id)
    for number in range(100):
        jobs.answer(job.id, "often", lambda _, number=number: b"%d" % number)
        jobs.answer(job.id, f"once {number}", lambda _: b"-")
    assert jobs.kept(job.id, "often") == b"0" and jobs.kept(job.id, "once 0") is None
    jobs.answer(job.id, "long", lambda _: b"-" * 1_000_000)
    assert jobs.kept(job.id, "long") is None
