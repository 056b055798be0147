"""The API: where the bodies of a solution are at a date, when two meet, and what is refused of both."""

from __future__ import annotations

from fractions import Fraction

import httpx
import pytest
from serving import ended, in_thread, submitted

from solver.service.limits import ServiceLimits

pytestmark = pytest.mark.slow

JUPITER = '[bodies]\nset = "jupiter"\n[rings]\ninner_teeth = 24\ntooth_step = 5\n[search]\nkeep = 1\n'
OWN = (
    '[bodies]\n[[bodies.list]]\nname = "A"\nperiod = 1\n[[bodies.list]]\nname = "B"\nperiod = 2\n'
    "[rings]\ninner_teeth = 24\ntooth_step = 5\n[search]\nkeep = 1\n"
)
# Jovicentric longitudes, 2026-01-01 0h TT, mean and true: L1.2 (Lainey, Duriez, Vienne), as in astronomy-engine.
TABLE = [
    ("Io", 332.8115, 333.2759), ("Europa", 279.5605, 278.7673), ("Ganymede", 342.9355, 342.9874),
    ("Callisto", 90.6507, 91.4450),
]  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory):
    data = tmp_path_factory.mktemp("sky") / "data"
    with in_thread(data, ServiceLimits(solve_seconds=1e6)) as (port, _), httpx.Client(trust_env=False) as client:
        client.base_url, client.timeout = f"http://127.0.0.1:{port}", 60
        yield client


def path_of(client, text: str) -> str:
    job = submitted(client, text)
    ended(client, job)
    point = client.get(f"/api/jobs/{job}/points").json()["points"][0]["point"]
    return f"/api/jobs/{job}/solutions/{point}/1"


@pytest.fixture(scope="module")
def jupiter(client) -> str:
    return path_of(client, JUPITER)


def test_where_the_bodies_are_at_a_date(client, jupiter):
    told = client.get(f"{jupiter}/sky", params={"date": "2026-01-01", "scale": "tt"}).json()
    assert (told["schema"], told["date"], told["set_utc"]) == (
        "ringwright.sky/1", "2026-01-01T00:00:00.000", told["date_utc"],
    )  # fmt: skip
    assert Fraction(*map(int, told["days"])) == Fraction(18993, 2)  # days from 2000-01-01 12:00 TT
    for body, (name, mean, true) in zip(told["bodies"], TABLE, strict=True):
        assert body["name"] == name
        assert body["mean_longitude_deg"] == pytest.approx(mean, abs=0.3)
        assert body["true_longitude_deg"] == pytest.approx(true, abs=0.3)
        assert body["turns"] == pytest.approx((90 + body["mean_longitude_deg"]) / 360 % 1)
        assert told["ring_turns"][body["ring"]] == pytest.approx(body["turns"])


def test_a_model_that_was_set_before_stands_by_its_own_ratios(client, jupiter):
    rings = client.get(jupiter).json()["solution"]["rings"]
    start = client.get(f"{jupiter}/sky", params={"date": "1930-01-01"}).json()
    after = client.get(f"{jupiter}/sky", params={"date": "2130-01-01", "set": "1930-01-01"}).json()
    assert after["set_utc"] == start["date_utc"]
    turns = (Fraction(*map(int, after["days"])) - Fraction(*map(int, start["days"]))) / Fraction("1.769137786")
    for ring, before, now in zip(rings, start["ring_turns"], after["ring_turns"], strict=True):
        exact = (Fraction(before) + turns / Fraction(*ring["ratio"])) % 1
        assert abs(float((Fraction(now) - exact + Fraction(1, 2)) % 1) - 0.5) < 1e-12


def test_now_unless_told_and_the_same_bytes_again(client, jupiter):
    assert client.get(f"{jupiter}/sky").json()["date"] > "2026"
    words = {"date": "2026-12-24T18:00+01:00"}
    first = client.get(f"{jupiter}/sky", params=words)
    assert first.json()["date_utc"] == "2026-12-24T17:00:00Z"
    assert client.get(f"{jupiter}/sky", params=words).content == first.content


def test_when_two_bodies_meet(client, jupiter):
    words = {"a": "Io", "b": "Europa", "after": "2026-01-01", "count": "4"}
    told = client.get(f"{jupiter}/meetings", params=words).json()
    assert (told["schema"], told["word"], told["why"], len(told["meetings"])) == (
        "ringwright.meetings/1", "conjunction", "", 4,
    )  # fmt: skip
    first = told["meetings"][0]
    assert first["true_utc"] > "2026-01-01T00:00:00Z"
    # 307 degrees at 102.11 a day, from the table above: mean longitudes meet after (360 - 53.251) / 102.114 days.
    assert first["mean_utc"].startswith("2026-01-04T00:0")
    assert abs(first["model_late_days"]) < 0.2


@pytest.mark.parametrize(
    "route, words, field, said",
    [
        ("sky", {"date": "2027-02-30"}, "date", "no such day"),
        ("sky", {"date": "2027-01-01T00:00+25:00"}, "date", "2027-01-01T00:00+25:00"),
        ("sky", {"date": "5000-01-01"}, "date", "is known from"),
        ("sky", {"date": "2027-01-01T00:00Z", "scale": "tt"}, "date", "TT has none"),
        ("sky", {"date": "2027-01-01", "set": "now"}, "set", "now"),
        ("sky", {"date": "2027-01-01", "set": "3000-01-01"}, "set", "is known from"),
        ("meetings", {"a": "Io", "b": "Europa", "set": "3000-01-01"}, "set", "is known from"),
        ("meetings", {"a": "Io", "b": "Europa", "after": "3000-01-01"}, "after", "are known from"),
        ("sky", {"date": "2027-01-01", "scale": "ut1"}, "scale", "ut1"),
        ("sky", {"day": "2027-01-01"}, "day", "unknown"),
        ("meetings", {"a": "Io", "b": "Titan"}, "b", "is no body of this design"),
        ("meetings", {"a": "Io", "b": "Io"}, "b", "choose two bodies"),
        ("meetings", {"a": "Io", "b": "Europa", "after": "soon"}, "after", "soon"),
        ("meetings", {"a": "Io", "b": "Europa", "count": "0"}, "count", "0"),
        ("meetings", {"a": "Io"}, "b", ""),
    ],
)
def test_what_is_refused_is_a_problem_in_one_line(client, jupiter, route, words, field, said):
    answer = client.get(f"{jupiter}/{route}", params=words)
    told = answer.json()
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json")
    assert said in told["detail"] and "\n" not in told["detail"]
    assert [one["field"] for one in told["errors"]] == [field]


def test_without_longitudes_there_is_no_date(client):
    path = path_of(client, OWN)
    for route in ("sky", "meetings?a=A&b=B"):
        answer = client.get(f"{path}/{route}")
        assert answer.status_code == 409
        assert answer.json()["detail"].startswith("no longitude is known of")
