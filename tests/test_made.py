"""What exists already: jigs, gears in the drawer, rings and links that stay; and the command that holds a part."""

from __future__ import annotations

import dataclasses
import tomllib
from fractions import Fraction
from itertools import pairwise

import brute
import brute_made
import pytest
from commands import CONFIGS, run
from shipped import DISCS, shipped

from solver import load_design, parse_design, solve
from solver.answer.document import train_of
from solver.check.judge import judge
from solver.design.made import FixedLink, OnBench
from solver.design.toothing import is_open
from solver.design.train import Link
from solver.files.holding import held_text, settled_text, standing_text
from solver.sheets.book.document import Items, Paragraph
from solver.sheets.book.exists import jigs_there, jigs_to_make, there_already
from solver.sheets.book.hours import hours_of
from solver.sheets.book.shopping import shopping
from solver.sheets.gears.inventory import inventory
from solver.words.lengths import Lengths

MOONS = """
title = "Three moons"
[bodies]
set = "saturn"
only = ["Mimas", "Tethys", "Titan"]
sense = "either"
[rings]
inner_teeth = 24
tooth_step = 6
blanks = 1
[arbors]
third_gears = 1
[fit]
directions = "none"
[search]
keep = 3
max_error_pct = 10
rank = ["error", "parts"]
"""


def moons(made: str = "", rank: str = '["error", "parts"]') -> str:
    return MOONS.replace('["error", "parts"]', rank) + made


def first(text: str):
    answer = solve(parse_design(text))
    assert answer.proven
    return answer.solutions[0]


def links(solution) -> list[tuple[str, int, int, list[int]]]:
    return [(link.kind, link.wheel, link.pinion, link.thirds) for link in solution.links]


def test_what_has_a_jig_costs_none() -> None:
    bare = first(moons())
    rings, gears = [ring.teeth for ring in bare.rings], [link.wheel for link in bare.links]
    told = f"[made]\nring_jigs = {rings[:2]}\ngear_jigs = {sorted(set(gears))}\n"
    sizes = {z for link in bare.links for z in (link.wheel, link.pinion, *link.thirds)}
    assert bare.jigs == len(set(rings)) + len(sizes) and bare.new_gears is None
    (same,) = (one for one in solve(parse_design(moons(told))).solutions if links(one) == links(bare))
    assert same.jigs == len(set(rings)) - 2 + len(sizes - set(gears))


def test_gears_of_the_drawer_are_used_once_each() -> None:
    """Without a drawer all gears are new; each gear of it saves one, as often as it is there."""
    bare = first(moons(rank='["new_gears", "error"]'))
    count = sum(2 + len(link.thirds) for link in bare.links)
    assert bare.new_gears == count
    (wheel,) = {link.wheel for link in bare.links[:1]}
    one, two = (first(moons(f"[made]\ngears = [{{teeth = {wheel}, count = {n}}}]\n")) for n in (1, 9))
    held = [z for link in one.links for z in (link.wheel, link.pinion, *link.thirds)].count(wheel)
    assert one.new_gears == count - min(held, 1) and two.new_gears == count - min(held, 9)


def test_fewer_new_gears_come_first_where_they_are_asked_for() -> None:
    """The drawer has the gears of a solution that is not the best, and two more."""
    other = solve(parse_design(moons())).solutions[2]
    gears = [z for link in other.links for z in (link.wheel, link.pinion, *link.thirds)]
    entries = ", ".join(f"{{teeth = {z}, count = {gears.count(z)}}}" for z in sorted(set(gears)))
    drawer = f"[made]\ngears = [{entries}]\n"
    best = first(moons(drawer, '["new_gears", "error"]'))
    assert best.new_gears == 0 and best.worst_error_pct <= other.worst_error_pct
    capped = solve(parse_design(moons(drawer).replace("keep = 3", "keep = 3\nmax_new_gears = 0")))
    assert capped.proven and all(one.new_gears == 0 for one in capped.solutions)
    assert capped.solutions[0].worst_error_pct == best.worst_error_pct


def test_a_link_that_stays_is_in_every_solution() -> None:
    for made, at in (("{link = 1, wheel = 14, pinion = 8}", 1), ("{link = 2, wheel = 13, pinion = 7}", 2)):
        answer = solve(parse_design(moons(f"[made]\nlinks = [{made}]\n")))
        assert answer.proven and answer.solutions
        wheel, pinion = (14, 8) if at == 1 else (13, 7)
        assert all((one.links[at].wheel, one.links[at].pinion) == (wheel, pinion) for one in answer.solutions)


def test_a_ring_that_stays_carries_its_body() -> None:
    answer = solve(parse_design(moons('[made]\nrings = [{ring = 2, body = "Tethys", teeth = 36}]\n')))
    assert answer.proven and all(one.rings[2].name == "Tethys" for one in answer.solutions)
    answer = solve(parse_design(moons("[made]\nrings = [{ring = 2, blank = true}]\n")))
    assert answer.proven and all(one.rings[2].blank for one in answer.solutions)
    for none in ("{ring = 2, teeth = 37}", '{ring = 1, body = "Tethys"}, {ring = 2, body = "Titan"}'):
        answer = solve(parse_design(moons(f"[made]\nrings = [{none}]\n")))
        assert answer.proven and not answer.solutions


def test_the_judge_names_what_does_not_stay() -> None:
    bare = parse_design(moons())
    train = train_of(bare, solve(bare).solutions[0])
    held = "[made]\nlinks = [{link = 0, wheel = 12, pinion = 6}]\nrings = [{ring = 0, teeth = 25}, "
    rider = "Tethys" if train.seats[1] == 2 else "Titan"
    design = parse_design(moons(held + f'{{ring = 1, body = "{rider}"}}]\n'))
    train = dataclasses.replace(train, links=(Link("plain", 13, 7), *train.links[1:]))
    broken = {(one.rule, one.where) for one in judge(design, train).violations if one.rule == "made"}
    assert broken == {("made", "link 0"), ("made", "ring 0"), ("made", "ring 1")}


def test_a_file_that_says_nothing_of_it_keeps_its_hash() -> None:
    """The hash that a shipped design had before there was such a table."""
    design = load_design(CONFIGS / "saturn-few-jigs.toml")
    assert "made" not in design.canonical() and "max_new_gears" not in design.canonical()["limits"]
    capped = parse_design(moons().replace("keep = 3", "keep = 3\nmax_new_gears = 4"))
    assert capped.canonical()["limits"]["max_new_gears"] == 4
    assert "made" in parse_design(moons("[made]\ngear_jigs = [12]\n")).canonical()


THIRDS = """
[bodies]
list = [
    {name = "a", period = 1},
    {name = "b", period = 1.8, sense = "reverse"},
    {name = "c", period = 3.2},
    {name = "d", period = 5.6, sense = "reverse"},
]
[rings]
inner_teeth = 30
tooth_step = [4, 5, 6]
tooth_pitch = 6
addendum = 0
[arbors]
wheel_teeth = {min = 8, max = 20}
pinion_teeth = {min = 6, max = 14}
third_teeth = {min = 6, max = 40}
third_gears = 3
[fit]
clearance = 1
directions = "none"
[search]
keep = 2
max_error_pct = 30
rank = ["error", "parts"]
"""


def test_a_full_drawer_leaves_third_gears_to_the_search() -> None:
    """Which of three third gears are from the drawer matters only where new gears decide, and where they are open."""
    bare = solve(parse_design(THIRDS))
    best = bare.solutions[0]
    assert bare.proven and [len(link.thirds) for link in best.links] == [1, 1, 1]
    drawer = "[made]\ngears = [" + ", ".join(f"{{teeth = {teeth}}}" for teeth in range(8, 30)) + "]\n"
    full = solve(parse_design(THIRDS + drawer))
    assert full.proven
    assert [one.worst_error_pct for one in full.solutions] == [one.worst_error_pct for one in bare.solutions]
    stays = "".join(
        f'[[made.links]]\nlink = {number}\nkind = "{link.kind}"\nwheel = {link.wheel}\n'
        f"pinion = {link.pinion}\nthirds = {link.thirds}\n"
        for number, link in enumerate(best.links)
    )
    for text in (THIRDS, THIRDS.replace('["error", "parts"]', '["new_gears", "error"]')):
        held = solve(parse_design(text + drawer + stays))
        assert held.proven and [links(one) for one in held.solutions] == [links(best)]
        assert held.solutions[0].new_gears == 0


REACHING = """
[bodies]
list = [
    {name = "a", period = 1},
    {name = "b", period = 1.5, sense = "either"},
    {name = "c", period = 3.25, sense = "either"},
]
[rings]
inner_teeth = [30, 36, 40, 44, 48]
tooth_step = 6
tooth_pitch = 6
addendum = 0
[arbors]
wheel_teeth = [8, 9, 10, 12, 14]
pinion_teeth = [6, 8, 9, 10, 12]
third_teeth = [8, 10, 12, 16, 20, 24]
third_gears = 1
[fit]
clearance = 1
directions = "none"
[search]
keep = 2
max_error_pct = 60
front = ["error", "envelope"]
[made]
links = [{link = 0, kind = "third-wheel", wheel = 12, pinion = 9, thirds = [24]}]
"""


def test_a_large_third_gear_that_stays_reaches_out_as_far() -> None:
    """It is not the smallest that fits, which would be within the radius of each point of the front."""
    design = parse_design(REACHING)
    answer = solve(design)
    front = brute.front(design, brute_made.all_trains(design))
    points = [answer.solutions[rank - 1] for rank in answer.front]
    assert answer.proven and len(front) > 2
    assert [[ring.teeth for ring in point.rings] for point in points] == [list(train.rings) for _, train, _ in front]
    assert answer.front_ties == [ties for *_, ties in front]


# -- hold --------------------------------------------------------------------------------------------------------------

HELD = [
    pytest.param("saturn-few-jigs", marks=pytest.mark.slow),
    *(
        pytest.param(name, marks=pytest.mark.deep)
        for name in ("jupiter-table", "saturn-hall", "saturn-stair-well", "solar-system")
    ),
]


@pytest.mark.deep
@pytest.mark.parametrize("name", HELD)
def test_what_is_held_comes_back_and_the_rest_is_no_worse(name, tmp_path) -> None:
    """All links held: the same train. Some: no worse in the first rank key."""
    text = (CONFIGS / f"{name}.toml").read_text()
    (tmp_path / "own.toml").write_text(text)
    code, _, err = run("solve", "own.toml", "--results", "runs", cwd=tmp_path)
    assert code == 0, err
    (folder,) = (tmp_path / "runs").iterdir()
    stored = solve(parse_design(text)).solutions[0]
    for words in ("all", f"0-{len(stored.links) // 2 - 1}", "1"):
        code, out, err = run("hold", f"runs/{folder.name}", "--links", words, cwd=tmp_path)
        assert code == 0, err
        design = parse_design(out)
        answer = solve(design)
        assert answer.proven
        best = answer.solutions[0]
        if words == "all":
            assert len(answer.solutions) == 1 and links(best) == links(stored)
            assert [ring.name for ring in best.rings] == [ring.name for ring in stored.rings]
            assert best.new_gears == 0 and best.jigs == 0
        key = design.rank[0]
        value = "worst_error_pct" if key == "error" else key
        assert getattr(best, value) <= getattr(stored, value)
        rest = tomllib.loads(out)
        del rest["made"]
        held = rest.get("fit", {}).pop("link", [])
        stand = [link.arbor.direction_deg for link in stored.links]
        assert (len(held) > 0) == (stand[0] is not None)
        for one in held:
            at = best.links[one["link"]].arbor.direction_deg
            assert float(Fraction(one["direction"])) == at == stand[one["link"]]
        if any(link.thirds for link in design.made.links) and "third" not in tomllib.loads(text)["wire"]:
            assert rest["wire"].pop("third") == (stored.third_toothing or "pins")  # was open: it is built one way
        assert rest | {"fit": rest.get("fit", {})} == {"fit": {}} | tomllib.loads(text)


STANDING = """
# two moons that pass each other
[bodies]
list = [{name = "a", period = 1}, {name = "b", period = 6.1}]
[rings]
inner_teeth = 30
tooth_step = 4
blanks = 2
tooth_pitch = 12
[arbors]
wheel_teeth = {min = 8, max = 16}
pinion_teeth = {min = 4, max = 12}
[fit]
directions = 7  # of which most are no decimals
[search]
keep = 3
"""
OTHER = "[[fit.link]]\nlink = 1\nspan = [100, 300]  # away from the label\n[[fit.link]]\nlink = 2\nspan = [0, 200]\n"


@pytest.mark.parametrize("written", [OTHER, "inline"])
def test_what_is_built_stays_where_it_stands(written, tmp_path) -> None:
    """Entries of other links stay, however they are written; --free-places leaves all as they are."""
    inline = "directions = 7\nlink = [{link = 1, span = [100, 300]}, {link = 2, span = [0, 200]}]"
    own = STANDING + written if written == OTHER else STANDING.replace("directions = 7", inline)
    (tmp_path / "own.toml").write_text(own)
    stored = solve(parse_design(own)).solutions[0]
    code, out, err = run("hold", "own.toml", "--links", "0-1", cwd=tmp_path)
    assert code == 0, err
    entries = tomllib.loads(out)["fit"]["link"]
    assert entries[1] == {"link": 2, "span": [0, 200]} and [one["link"] for one in entries] == [1, 2, 0]
    stand = [link.arbor.direction_deg for link in stored.links[:2]]
    assert [float(Fraction(entries[at]["direction"])) for at in (2, 0)] == stand
    assert "# two moons" in out and "# of which most" in out
    answer = solve(parse_design(out))
    assert answer.proven and links(answer.solutions[0]) == links(stored)
    for one in answer.solutions:
        assert [link.arbor.direction_deg for link in one.links[:2]] == stand
    code, out, err = run("hold", "own.toml", "--links", "0-1", "--free-places", cwd=tmp_path)
    assert code == 0 and tomllib.loads(out)["fit"] == tomllib.loads(own)["fit"], err


OVER = """link = [
  {link = 2, span = [0, 90]}, # over the {door}
]
"""


@pytest.mark.parametrize(
    ("written", "directions", "then"),
    [
        ("link = [{link = 2, span = [0, 90]}]\n", {2: 90}, "link = [{link = 2, direction = 90}]\n"),
        (OVER, {2: 90}, OVER.replace("span = [0, 90]", "direction = 90")),
        (OVER, {0: 30}, OVER.replace("{door}\n", "{door}\n  {link = 0, direction = 30},\n")),
        (
            "link = [{link = 2, span = [0, 90]}]\n", {0: 30, 2: 60},
            "link = [\n    {link = 2, direction = 60},\n    {link = 0, direction = 30},\n]\n",
        ),
        (
            "[[fit.link]] # over the {door}\nlink = 2\ndirection = 60\n", {0: 30, 2: 90},
            "[[fit.link]] # over the {door}\nlink = 2\ndirection = 90\n[[fit.link]]\nlink = 0\ndirection = 30\n",
        ),
        ("", {}, ""),
        ("", {1: 30}, "link = [\n    {link = 1, direction = 30},\n]\n"),
    ],
)  # fmt: skip
def test_directions_are_put_beside_what_is_written(written, directions, then) -> None:
    twelve = STANDING.replace("directions = 7", "directions = 12")
    own, wanted = (twelve.replace("[search]", f"{some}[search]") for some in (written, then))
    assert standing_text(own, {link: Fraction(at) for link, at in directions.items()}) == wanted


@pytest.mark.parametrize(
    ("wire", "then"),
    [
        ("[wire] # mine\nloop = 1\n", '[wire] # mine\nloop = 1\nthird = "pins"\n'),
        ("[wire]\nthird = 'better' # either\nloop = 1\n", '[wire]\nthird = "pins" # either\nloop = 1\n'),
        ("wire = {loop = 1}\n", 'wire = {loop = 1, third = "pins"}\n'),
        ('wire.third = "better"\n', 'wire.third = "pins"\n'),
        ("wire.loop = 1\n", 'wire.loop = 1\nwire.third = "pins"\n'),
    ],
)
def test_third_gears_that_are_open_are_settled_however_it_is_written(wire, then) -> None:
    own = STANDING.replace("[arbors]", "[arbors]\nthird_gears = 1")
    own, wanted = (f"{one}{own}" if one.startswith("wire") else f"{own}{one}" for one in (wire, then))
    assert is_open(parse_design(own)) and not is_open(parse_design(wanted))
    assert settled_text(own, "pins") == wanted


@pytest.mark.parametrize(
    "made",
    [
        "# there\n[made] # {all}\ngear_jigs = [12]\nlinks = [\n  {link = 1, wheel = 14, pinion = 8},\n]\n",
        "[made]\ngear_jigs = [12]\n[[made.links]]\nlink = 1\nwheel = 14\npinion = 8\n",
        "made = {gear_jigs = [12], links = [{link = 1, wheel = 14, pinion = 8}]}\n",
        "made.gear_jigs = [12]\nmade.links = [{link = 1, wheel = 14, pinion = 8}]\n",
        '"made".links = [{link = 1, wheel = 14, pinion = 8}]\nmade.gear_jigs = [\n12, # of them\n]\n',
    ],
)
def test_what_was_held_is_read_however_it_is_written(made) -> None:
    own = f"{made}{moons()}" if made.startswith(("made", '"')) else moons(made)
    text = held_text(own, [], [FixedLink(0, "plain", 12, 6, ())], [], ["Link 0 stays"])
    assert tomllib.loads(text)["made"] == {
        "gear_jigs": [12],
        "links": [{"link": 1, "wheel": 14, "pinion": 8}, {"link": 0, "wheel": 12, "pinion": 6}],
    }
    assert text.startswith("# Link 0 stays\n") and text.count("made") == 1 and ("# there" in text) == ("# there" in own)


def test_a_table_of_nothing_is_filled() -> None:
    text = held_text(moons("[made]\n"), [], [FixedLink(0, "plain", 12, 6, ())], [], [])
    assert tomllib.loads(text)["made"] == {"links": [{"link": 0, "wheel": 12, "pinion": 6}]}


def test_a_part_that_is_held_stays_held(tmp_path) -> None:
    """Holding twice holds both; comments and all else are as they were."""
    own = "# my moons\n" + moons('[made]\ngear_jigs = [12]\n[loads]\nbearing = "ball"  # as bought\n')
    (tmp_path / "own.toml").write_text(own)
    code, _, err = run("hold", "own.toml", "--links", "0", "--out", "one.toml", cwd=tmp_path)
    assert code == 0 and "ringwright solve one.toml" in err
    assert (tmp_path / "one.toml").read_text().startswith("# Link 0 of solution 1 of own.toml stays, in the table")
    code, out, err = run("hold", "one.toml", "--links", "2", cwd=tmp_path)
    assert code == 0, err
    made = parse_design(out).made
    assert made is not None and made.gear_jigs == (12,)
    assert [one.link for one in made.links] == [0, 2] and [one.ring for one in made.held] == [0, 1, 2, 3]
    assert "# my moons" in out and "# as bought" in out


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--links", "0-9"), "--links 0-9: there is no link 3; the train has links 0 to 2"),
        (("--links", "4-2"), "--links 4-2: 4-2 runs backwards; write 2-4"),
        (("--links", "few"), "--links few: write them like 0-4, 0,2,5 or all"),
        (("--links", "٣"), "--links ٣: write them like 0-4, 0,2,5 or all"),
        (("--links", "1,"), "--links 1,: write them like 0-4, 0,2,5 or all"),
        (("--links", "0", "--rank", "7"), "--rank 7: own.toml has 3 solutions"),
        (("--links", "0", "--point", "a"), "--point: chooses among the points of a sweep, and own.toml is none"),
    ],
)
def test_what_cannot_be_held_is_refused(words, said, tmp_path) -> None:
    (tmp_path / "own.toml").write_text(moons())
    code, out, err = run("hold", "own.toml", *words, cwd=tmp_path)
    assert (code, out) == (2, "") and said in err


def test_of_a_design_without_a_solution_nothing_is_held(tmp_path) -> None:
    (tmp_path / "own.toml").write_text(moons().replace("keep = 3", "keep = 3\nmax_jigs = 2"))
    code, out, err = run("hold", "own.toml", "--links", "0", cwd=tmp_path)
    assert (code, out) == (3, "") and "proven that nothing fits" in err


def test_what_stays_too_long_is_named_by_explain(tmp_path) -> None:
    """A step that the link's gears do not make: either may give way."""
    (tmp_path / "own.toml").write_text(moons("[made]\nlinks = [{link = 1, wheel = 20, pinion = 15}]\n"))
    _, out, _ = run("explain", "own.toml", cwd=tmp_path)
    assert "made.links (link 1) 20/15 → open" in " ".join(out.split()), out


def test_links_around_a_blank_that_stay_are_not_put_in_order() -> None:
    """Of trains that differ by the order of such links the second proof looks at one: not where one of them stays."""
    from solver.answer.document import ProofOutcome
    from solver.answer.prove import prove
    from solver.search.stop import NoStop

    for wheel, pinion in ((14, 8), (11, 5)):
        design = parse_design(moons(f"[made]\nlinks = [{{link = 1, wheel = {wheel}, pinion = {pinion}}}]\n"))
        answer = solve(design)
        proofs = prove(design, answer.solutions, answer.front, NoStop()).proofs
        assert {one.outcome for one in proofs} == {ProofOutcome.CONFIRMED}
        worse = [one for one in answer.solutions if one.worst_error_pct > answer.solutions[0].worst_error_pct]
        if worse:
            assert prove(design, worse, None, NoStop()).proofs[-1].outcome is ProofOutcome.REFUTED
        assert all(a.teeth < b.teeth for a, b in pairwise(answer.solutions[0].rings))


# -- sheets ------------------------------------------------------------------------------------------------------------


@pytest.mark.deep
def test_the_sheets_leave_out_jigs_that_exist_and_say_so() -> None:
    design, answer = shipped(DISCS.stem)
    train = answer.trains(design)[0]
    made = OnBench((train.rings[0],), (), ((train.links[0].wheel, 1),), (), (), ())
    bare, stock = inventory(design, train), inventory(dataclasses.replace(design, made=made), train)
    assert jigs_to_make(bare) == bare.jigs and list(there_already(bare)) == list(jigs_there(bare)) == []
    left = {f"jig R{train.rings[0]}", f"jig G{train.links[0].wheel}"}
    assert {jig.name for jig in stock.jigs} - {jig.name for jig in jigs_to_make(stock)} == left
    (told,) = (block.text for block in jigs_there(stock) if isinstance(block, Paragraph))
    assert told.startswith("By the file 2 jigs exist already: R")
    _, items = there_already(stock)
    gears = sum(2 + len(link.thirds) for link in train.links)
    assert isinstance(items, Items) and f"1 of {train.links[0].wheel} teeth" in items.items[0]
    assert f"{gears - 1} are to be made" in items.items[0]
    counts = {one.what: one.count for one in hours_of(stock, [], 0)}
    assert counts["set up jigs"] == len(stock.jigs) - 2


@pytest.mark.deep
@pytest.mark.parametrize("kind", ["none", "the largest", "all"])
def test_what_jigs_are_made_of_is_bought_for_those_that_are_still_to_be_made(kind: str) -> None:
    design, answer = shipped(DISCS.stem)
    train = answer.trains(design)[0]
    bare = inventory(design, train)
    there = {"none": [], "the largest": [max(bare.jigs, key=lambda jig: jig.teeth)], "all": list(bare.jigs)}[kind]
    made = OnBench(
        tuple(jig.teeth for jig in there if jig.kind == "ring"), tuple(jig.teeth for jig in there if jig.kind != "ring")
    )
    stock = inventory(dataclasses.replace(design, made=made), train)
    left = [jig for jig in bare.jigs if jig not in there]
    needed = {row.part: row.needed for row in shopping(stock, [], 0, Lengths(design.units))}
    assert needed.get("board for a jig", 0) == len(left)
    # One jig stands at a time, and each tooth is bent about one pin at its tip and one at its root.
    for where in ("tip", "root"):
        counts = [sum(hole.what == where for hole in jig.holes) for jig in left]
        assert needed.get(f"jig pin for {where}s", 0) == max(counts, default=0)
