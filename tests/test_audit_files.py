"""What is wrong with the file of a train, or with what is asked for, is one clear line."""

from __future__ import annotations

import pytest
from auditing import command, link, mesh

SATURN = '[bodies]\nset = "saturn"\nonly = ["Mimas", "Tethys", "Titan"]\n'
THREE = SATURN + "[train]\nrings = [24, 30, 36]\n"
TWO_LINKS = link(13, 7) + link(12, 6)
PLACED_LINKS = link(13, 7, "direction = 0") + link(12, 6, "direction = 180")
YEAR = "[train]\n" + mesh("year", "Venus", 52, 32) + mesh("year", "Mars", 84, 158)

FAULTS = [
    ("", "train: is missing: give the train that there is, by rings and [[train.links]] or by [[train.meshes]]"),
    ("[trian]\nrings = [24]\n", 'trian: unknown key; did you mean "train"?'),
    ("train = 5\n", "train = 5: must be a table"),
    ("[train]\n", "train: needs rings and links, or meshes; [[train.links]] and [[train.meshes]] are lists of tables"),
    (
        '[train]\n[[train.mesh]]\ndriver = "a"\n',
        "train: needs rings and links, or meshes; [[train.links]] and [[train.meshes]] are lists of tables; "
        'did you mean "meshes"?',
    ),
    (THREE + TWO_LINKS + mesh("a", "b", 1, 2), "train.rings: a train has rings and links, or meshes, not both"),
    ("[train]\nrings = [24, 30]\n", "train.links: is missing"),
    ("[train]\nrings = [24]\nlinks = []\n", "train.rings = [24]: a train has at least 2 rings"),
    ("[train]\nrings = [24, 30]\nlinks = []\n", "train.links: 2 rings need 1 link; there are 0"),
    (THREE + link(13, 7), "train.links: 3 rings need 2 links; there is 1"),
    (THREE + link(0, 7) + link(12, 6), "train.links[0].wheel = 0: must be at least 3"),
    (THREE.replace("30", "30.5") + TWO_LINKS, "train.rings[1] = 30.5: must be a whole number"),
    (THREE + link(13, 7, "whel = 3") + link(12, 6), 'train.links[0].whel: unknown key; did you mean "wheel"?'),
    (THREE + "state = []\n" + TWO_LINKS, 'train.state: unknown key; did you mean "states"?'),
    ("[arbors]\nwhel_teeth = 3\n" + THREE + TWO_LINKS, 'arbors.whel_teeth: unknown key; did you mean "wheel_teeth"?'),
    (
        THREE + 'bodies = ["Mimas"]\n' + TWO_LINKS,
        'train.bodies: has 1 name for 3 rings; give each ring one, "" for none',
    ),
    (
        THREE + 'bodies = ["Mimas", "Titn", "Titan"]\n' + TWO_LINKS,
        'train.bodies[1] = "Titn": [bodies] has no such body; did you mean "Titan"?',
    ),
    (
        THREE + 'bodies = ["Mimas", "Titan", "Titan"]\n' + TWO_LINKS,
        'train.bodies[2] = "Titan": rides on another ring already',
    ),
    (
        THREE + 'bodies = ["Titan", "Tethys", "Mimas"]\n' + TWO_LINKS,
        'train.bodies[1] = "Tethys": rides outside "Titan" and has the shorter period; bodies stand innermost first',
    ),
    (
        THREE + 'bodies = ["", "Tethys", "Titan"]\n' + TWO_LINKS,
        'train.bodies[0] = "": the first and the last ring carry a body: nothing needs a ring inside or '
        "beyond those. Leave this ring and its link out, or leave out [bodies] and see ratios and places "
        "alone",
    ),
    (
        THREE.replace('only = ["Mimas", "Tethys", "Titan"]', "") + TWO_LINKS,
        'train.bodies: is missing: 7 bodies on 3 rings; name the body of each ring, "" for none',
    ),
    (
        THREE + 'states = ["1", "two", ""]\n' + TWO_LINKS,
        'train.states[1] = "two": must be a number as you state it, like "2.476" or "52/21" (not a number)',
    ),
    (
        THREE + link(13, 7, 'ratio = "1/0"') + link(12, 6),
        'train.links[0].ratio = "1/0": must be a number as you state it, like "2.476" or "52/21" (the '
        "denominator is zero)",
    ),
    (THREE + link(13, 7, "ratio = -2.5") + link(12, 6), "train.links[0].ratio = -2.5: must be greater than 0"),
    (
        THREE + link(13, 7, "thirds = [8]") + link(12, 6),
        'train.links[0].kind: is missing: with one third gear say where it stands, "third-wheel" (between '
        'ring and wheel) or "third-pinion" (between pinion and the next ring)',
    ),
    (
        THREE + link(13, 7, "thirds = [8, 8, 8]") + link(12, 6),
        "train.links[0].thirds = [8, 8, 8]: a link has at most one third gear on either side: two in all",
    ),
    (
        THREE + link(13, 7, 'kind = "thirdwheel"') + link(12, 6),
        'train.links[0].kind = "thirdwheel": is no kind of link; did you mean "third-wheel"?',
    ),
    (
        THREE + link(13, 7, 'kind = "plain"\nthirds = [8]') + link(12, 6),
        "train.links[0].thirds = [8]: a link of kind plain has 0 third gears, not 1",
    ),
    (
        THREE + link(13, 7, "direction = 0") + link(12, 6),
        "train.links[1].direction: is missing: give a direction to every link, or to none",
    ),
    (
        THREE + link(13, 7, "direction = 360") + link(12, 6),
        "train.links[0].direction = 360: must be degrees from 0 to less than 360",
    ),
    (
        THREE + link(13, 7, 'sides = ["left"]') + link(12, 6),
        'train.links[0].sides = ["left"]: says nothing without train.links[0].direction',
    ),
    (
        THREE + link(13, 7, "direction = 0\nradius_teeth = 40") + link(12, 6, "direction = 180"),
        "train.links[0].radius_teeth = 40: is given by the teeth; only an arbor that meets no ring directly "
        "may stand nearer or farther",
    ),
    (
        THREE + link(13, 7, 'direction = 0\nthirds = [8]\nkind = "third-wheel"') + link(12, 6, "direction = 180"),
        'train.links[0].sides: is missing: give "left" or "right" for each third gear (1); seen from the main'
        " axis, left is counterclockwise of the arbor",
    ),
    (
        "[arbors]\nreverted = false\n" + THREE + PLACED_LINKS,
        "train.links[0].direction: needs arbors.reverted = true: without it no places are computed",
    ),
    (
        THREE + TWO_LINKS + "[[train.rollers]]\nring = 0\ndirections = [1]\n",
        "train.rollers: needs the links' directions: without places no rollers are judged",
    ),
    (
        THREE + PLACED_LINKS + "[[train.rollers]]\nring = 0\ndirections = [1]\n",
        "train.rollers: needs fit.rollers, which says how large they are",
    ),
    (
        "[fit]\nrollers = {radius = 9}\n" + THREE + PLACED_LINKS + "[[train.rollers]]\nring = 0\ndirections = [1]\n",
        "train.rollers: ring 1 has none; give every ring its rollers, or leave them all out",
    ),
    (
        THREE + PLACED_LINKS + "[train.drive]\nring = 0\nmotor_rpm = 3\npinion = 7\n",
        "train.drive.direction: is missing: say where the motor stands",
    ),
    (
        "[rings]\nteeth = [3, 4, 5]\ntooth_step = 4\n" + THREE + TWO_LINKS,
        "rings.tooth_step = 4: give rings.teeth or inner_teeth and tooth_step, not both",
    ),
    (
        "[train]\nrings = " + str([24] * 60) + "\n" + link(1000, 3) * 59,
        "train.links[5]: turns the ring beyond it more than 10^15 times as slowly or as fast as ring 0; that "
        "is no orrery",
    ),
    (
        "[train]\nrings = " + str([24] * 1000) + "\nlinks = []\n",
        "train.rings = [24, 24, 24, 24, 24, 24, 24, 24, ...]: has 1000 rings; at most 120",
    ),
    ("[train]\nmeshes = []\n", "train.meshes: is empty; give at least one mesh"),
    (YEAR.replace("52", "0"), "train.meshes[0].teeth[0] = 0: must be at least 1"),
    (
        YEAR.replace("[52, 32]", "[52, 32, 7]"),
        "train.meshes[0].teeth = [52, 32, 7]: must be two tooth counts: the driver's gear, then the driven one",
    ),
    (
        YEAR.replace('"Venus"', '"year"'),
        'train.meshes[0].driven = "year": is the driver itself; two gears of one arbor do not mesh',
    ),
    (
        YEAR + mesh("yaer", "Moon", 3, 4),
        'train.meshes: no mesh connects "yaer", "Moon" with "year"; did you mean "year"?',
    ),
    (
        YEAR + mesh("Venus", "Mars", 10, 20),
        'train.meshes[2]: closes a loop that cannot turn: for a turn of "year", "Mars" turns 42/79 times '
        "backwards by mesh 1, but 13/16 times by meshes 0, 2",
    ),
    (
        YEAR.replace("[train]", '[train]\nreference = "yaer"'),
        'train.reference = "yaer": no mesh has such an arbor; did you mean "year"?',
    ),
    (
        YEAR + '[[train.states]]\nof = "Vens"\nper = "year"\nturns = 2\n',
        'train.states[0].of = "Vens": no mesh has such an arbor; did you mean "Venus"?',
    ),
    (
        YEAR + '[[train.turns]]\nof = "X"\nturns = 2\n',
        'train.turns[0].of = "X": no mesh has such an arbor; the arbors are "year", "Venus", "Mars"',
    ),
    (
        YEAR + '[bodies]\nset = "planets"\n',
        'train.reference_period: is missing: how long does "year" take for a turn, in the unit of the bodies\''
        " periods? (or give the reference arbor the name of its body)",
    ),
    (
        YEAR + '[bodies]\nset = "saturn"\n',
        'bodies: no arbor bears the name of a body: they are "year", "Venus", "Mars"',
    ),
    (
        YEAR + "[rings]\ninner_teeth = 3\n",
        "rings: does not belong here: of a train of meshes the turns alone are judged, not where it stands",
    ),
    (
        "[train]\n" + "".join(mesh(f"a{i}", f"a{i + 1}", 1000, 1) for i in range(90)),
        "train.meshes[5]: is beyond 10^15 to 1 from the reference; no gears do that",
    ),
]


@pytest.mark.parametrize(("text", "message"), FAULTS, ids=range(len(FAULTS)))
def test_a_fault_is_one_clear_line(text, message, monkeypatch, capsys, tmp_path):
    file = tmp_path / "train.toml"
    file.write_text(text)
    assert command(monkeypatch, capsys, file) == (2, "", f"{file}: {message}\n")


@pytest.mark.parametrize(
    ("words", "text", "message"),
    [
        (
            ("--best",),
            "[train]\nrings = [24, 30]\n" + link(13, 7),
            "bodies: is missing: --best needs bodies, whose periods say what is better",
        ),
        (("--place",), YEAR, "train.meshes: --place and --best are for trains of rings and links"),
        (
            ("--place",),
            '[fit]\ndirections = "none"\n' + THREE + TWO_LINKS,
            "fit.directions: --place needs directions to look in, and arbors.reverted = true",
        ),
    ],
)
def test_what_cannot_be_asked_for(words, text, message, monkeypatch, capsys, tmp_path):
    file = tmp_path / "train.toml"
    file.write_text(text)
    assert command(monkeypatch, capsys, file, *words) == (2, "", f"{file}: {message}\n")
