"""Fields of the form for what not every model has, folded at first: what holds the parts, what drives them, how wire is
worked, what exists already, further limits."""

from __future__ import annotations

from solver.service.page.form_field import Field, Group
from solver.service.page.form_values import DRAWER, FLAG, NUMBER, NUMBERS, SPAN, SPANS, TEXT

DRIVEN = "drive.by"  # no field of the file: which of its fields are asked for
_BENT, _MADE = "saw curved", "saw curved cycloidal involute"
_OF_BENT, _OF_ALL = ("wire.form", _BENT), ("wire.form", _MADE)
_ARMS, _MOTOR, _CRANK = ("supports.model", "wall table"), (DRIVEN, "motor"), (DRIVEN, "crank")
_EITHER = (DRIVEN, "motor crank")

WIRE_MORE = (
    Field("wire.stock", "Lengths of the bars that you have", NUMBERS, "“914; 1829”", only_if=_OF_BENT, unit="length"),
    Field("wire.jig_pin", "Jig pin", NUMBER, "what teeth are bent around", only_if=_OF_BENT, unit="length"),
    Field("wire.kerf", "Kerf", NUMBER, "what each cut of the saw takes", only_if=_OF_BENT, unit="length"),
    Field("wire.cleanup", "Filing", NUMBER, "what each piece is cut longer", only_if=_OF_BENT, unit="length"),
    Field(
        "wire.third",
        "Third gears have",
        TEXT,
        choices=(("", "what is better"), ("pins", "pins"), ("teeth", "short teeth")),
        only_if=("wire.form", "saw"),
        usual="better",
    ),
    Field("wire.pin_length", "Length of pins", NUMBER, "empty: as long as needed", only_if=_OF_BENT, unit="length"),
    Field("wire.spokes", "Spokes", NUMBER, "of each loop of a small gear", only_if=_OF_BENT),
    Field("wire.arbor_diameter", "Arbors", NUMBER, "diameter of the sleeves", only_if=_OF_ALL, unit="length"),
    Field("wire.hub_diameter", "Hubs", NUMBER, "their diameter", only_if=_OF_ALL, unit="length"),
    Field("wire.accuracy", "Accuracy", NUMBER, "how far parts may be out", only_if=_OF_ALL, unit="length"),
    Field("wire.density", "Density of the metal", NUMBER, "brass has 8.48", only_if=_OF_ALL, unit="g/cm³"),
)
HELD = Group(
    "held",
    "What holds the parts",
    (
        Field(
            "fit.plate",
            "Plate",
            TEXT,
            "that posts run to",
            (("", "none"), ("inner", "beyond the innermost ring"), ("outer", "beyond the largest ring")),
            usual="none",
        ),
        Field("fit.post_radius", "Posts", NUMBER, "their radius, that of the bodies' rods too", unit="length"),
        Field(
            "fit.stands",
            "Bodies stand",
            TEXT,
            choices=(("", "within their level"), ("outer", "out beyond the largest ring"),
                     ("inner", "out beyond the innermost ring")),
            usual="none",
        ),
        Field("fit.rollers.count", "Rollers of each ring", SPAN, "a number or a span; 4 unless told"),
        Field("fit.rollers.radius", "Rollers", NUMBER, "their radius; empty: no rollers", unit="length"),
        Field("fit.rollers.reach", "A roller beside each mesh", NUMBER, "so near at least", unit="degrees"),
        Field(
            "supports.model",
            "Arms, and how the model stands",
            TEXT,
            "without a plate, arms from the frame; both need a frame and a tooth form",
            (("", "not looked at"), ("wall", "hung on a wall, axis level"), ("table", "on a table, axis upright")),
        ),
        Field("supports.arm", "Arms", NUMBER, "their diameter", only_if=_ARMS, unit="length"),
        Field("supports.bar", "Bars of the frame", NUMBER, "their diameter", only_if=_ARMS, unit="length"),
        Field(
            "supports.metal",
            "Arms and bars are of",
            TEXT,
            choices=(("", "steel"), ("brass", "brass")),
            only_if=_ARMS,
            usual="steel",
        ),
        Field(
            "supports.from",
            "Arms begin",
            TEXT,
            choices=(("", "at the frame"), ("arms", "at the frame or on another arm")),
            only_if=_ARMS,
            usual="frame",
        ),
        Field("supports.sag", "Bending allowed", NUMBER, "empty: a quarter of the addendum", only_if=_ARMS,
              unit="length"),
    ),
    folded=True,
)  # fmt: skip
DRIVE = Group(
    "drive",
    "What drives it",
    (
        Field(
            DRIVEN, "Driven by", TEXT, choices=(("", "not looked at"), ("motor", "a motor"), ("crank", "a hand crank"))
        ),
        Field(
            "drive.motor_rpm", "Motors that you have", NUMBERS, "their speeds, “2; 5”", only_if=_MOTOR, unit="rpm"
        ),
        Field("drive.crank.radius", "Arm of the crank", NUMBER, only_if=_CRANK, unit="length"),
        Field("drive.crank.rpm", "Turned by hand at", NUMBER, only_if=_CRANK, unit="rpm"),
        Field("drive.turn.body", "The time wished for is of", TEXT, "the name of a body", only_if=_EITHER),
        Field("drive.turn.seconds", "A revolution of it takes", NUMBER, "about", only_if=_EITHER, unit="s"),
        Field("drive.pinion_teeth", "Pinion on its shaft", SPAN, "teeth; empty: 5 to 12", only_if=_EITHER),
        Field(
            "drive.ring",
            "It works with",
            TEXT,
            choices=(("", "either ring"), ("inner", "the innermost ring"), ("outer", "the largest ring")),
            only_if=_EITHER,
            usual="any",
        ),
        Field("drive.third_gears", "Third gears between", NUMBER, "0 or 1", only_if=_EITHER),
        Field(
            "drive.reverse_ok",
            "The motor turns",
            FLAG,
            choices=(("", "either way"), ("false", "clockwise only")),
            only_if=_MOTOR,
            usual="true",
        ),
        Field("drive.torque_ncm", "Its torque", NUMBER, "as its maker tells it", only_if=_MOTOR, unit="N cm"),
        Field("drive.stall_ncm", "Held fast", NUMBER, "as its maker tells it", only_if=_MOTOR, unit="N cm"),
    ),
    folded=True,
)  # fmt: skip
MADE = Group(
    "made",
    "What exists already",
    (
        Field("made.gear_jigs", "Jigs of small gears", SPAN, "their teeth; they cost nothing more"),
        Field("made.ring_jigs", "Jigs of rings", SPAN, "their teeth"),
        Field("made.gears", "Gears in the drawer", DRAWER, "“3 of 12; 16”: three of 12 teeth, one of 16"),
    ),
    f"Teeth: {SPANS}. What is listed may be used and need not be.",
    folded=True,
)
SEARCH_MORE = (
    Field("search.max_parts", "Parts at most", NUMBER),
    Field("search.max_jigs", "Jigs at most", NUMBER),
    Field("search.max_teeth", "Teeth at most", NUMBER, "of all gears together"),
    Field("search.max_largest", "Largest gear at most", NUMBER, "its teeth"),
    Field("search.max_new_gears", "New gears at most", NUMBER, "small gears that are not in the drawer"),
    Field("search.max_envelope", "Radius at most", NUMBER, "of all there is, from the axis", unit="length"),
    Field("search.max_drift.degrees", "No body farther off than", NUMBER, "after the years beside", unit="degrees"),
    Field("search.max_drift.years", "after", NUMBER, unit="years"),
    Field("search.seed", "Seed", NUMBER),
)
