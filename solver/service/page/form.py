"""The form for the usual case: which fields of the design file it has, in which order, and how they are asked for.

A new field of the file gets its place here, as one more `Field`: reading it, filling it from a file, its faults and its
unit follow. What the form has no field for is kept as text beside it (`form_file`).
"""

from __future__ import annotations

from solver.files.body_sets import BodySet, body_sets
from solver.service.page.form_field import VARIED, Field, Group
from solver.service.page.form_rare import DRIVE, HELD, MADE, SEARCH_MORE, WIRE_MORE
from solver.service.page.form_values import FLAG, GAUGE, KEYS, NUMBER, SECTORS, SPAN, SPANS, TEXT

SET = "saturn"
ONLY = "only:"  # before the name of a set, in the name of the boxes of its bodies
_BENT, _CUT = "saw curved", "cycloidal involute"  # forms of teeth, of wire and of plate

_TITLE = Field("title", "Title", TEXT)
_SET = Field("bodies.set", "Body set", TEXT)
_UNITS = Field("units", "Units of length", TEXT, choices=(("mm", "millimetres"), ("in", "inches")))
_REFERENCE = Field(
    "bodies.reference",
    "Held exact",
    TEXT,
    choices=(("first", "the first body"), ("best", "none: the common rate is free")),
)
_SENSE = Field(
    "bodies.sense",
    "Which way bodies turn",
    TEXT,
    "the other way needs third gears",
    (("", "all alike"), ("either", "either way"), ("reverse", "against the first")),
    usual="same",
)
BODIES = (_TITLE, _SET, _REFERENCE, _UNITS, _SENSE)  # which the page has under a heading of their own

_RINGS = Group(
    "rings",
    "Rings",
    (
        Field("rings.inner_teeth", "Teeth of the innermost ring", SPAN),
        Field("rings.tooth_step", "Tooth step from ring to ring", SPAN),
        Field("rings.blanks", "Blank rings", SPAN, "rings without a body"),
        Field("rings.tooth_pitch", "Tooth pitch", NUMBER, "along the pitch circle", unit="length"),
    ),
    f"Teeth, steps and blanks: {SPANS}.",
    (
        Field("rings.addendum", "Addendum", NUMBER, "from the pitch circle out to the tip", unit="length"),
        Field("rings.rim", "Rim", NUMBER, "from the pitch circle in to the hole", unit="length"),
        Field("rings.level_spacing", "Level spacing", NUMBER, "from one ring to the next", unit="length"),
    ),
    "Proportions of the rings",
)
_ARBORS = Group(
    "arbors",
    "Small gears",
    (
        Field("arbors.wheel_teeth", "Wheel teeth", SPAN, "of the gear that works with the inner ring"),
        Field("arbors.pinion_teeth", "Pinion teeth", SPAN, "of the gear that works with the outer ring"),
        Field("arbors.third_gears", "Third gears at most", NUMBER, "in the whole train; each turns the rest about"),
        Field("arbors.third_teeth", "Third gear teeth", SPAN, "counts where third gears are allowed"),
    ),
    f"Teeth: {SPANS}.",
    (Field("arbors.stock", "Only these tooth counts", SPAN, "any number of each; empty: all of the above"),),
    "Only certain gears",
)
_WIRE = Group(
    "wire",
    "What gears are made of",
    (
        Field(
            "wire.form",
            "Tooth form",
            TEXT,
            choices=(
                ("", "none: gears are plain discs"),
                ("saw", "saw: bent wire, with pin gears"),
                ("curved", "curved: bent wire, more even"),
                ("cycloidal", "cycloidal: cut from plate"),
                ("involute", "involute: cut from plate"),
            ),
        ),
        Field("wire.loop", "Wire of loops", GAUGE, only_if=("wire.form", _BENT), unit="length"),
        Field("wire.tooth", "Wire of teeth", GAUGE, only_if=("wire.form", _BENT), unit="length"),
        Field("wire.pin", "Wire of pins", GAUGE, only_if=("wire.form", _BENT), unit="length"),
        Field("wire.sheet", "Plate", NUMBER, "its thickness", only_if=("wire.form", _CUT), unit="length"),
        Field(
            "fit.unevenness",
            "Unevenness",
            NUMBER,
            "how far a mesh may stray from even turning",
            only_if=("wire.form", f"{_BENT} {_CUT}"),
            unit="of a pitch",
        ),
    ),
    "Wire: a gauge, as AWG 14 or SWG 16, or a diameter.",
    WIRE_MORE,
    "Bars, saw and workmanship",
)
_SHAPES = (("", "no limit"), ("square", "square"), ("rectangle", "rectangle"), ("round", "round"))
_FIT = Group(
    "fit",
    "Frame and places",
    (
        Field("fit.frame.shape", "Frame", TEXT, choices=_SHAPES),
        Field("fit.frame.side", "Side", only_if=("fit.frame.shape", "square"), unit="length"),
        Field("fit.frame.width", "Width", only_if=("fit.frame.shape", "rectangle"), unit="length"),
        Field("fit.frame.height", "Height", only_if=("fit.frame.shape", "rectangle"), unit="length"),
        Field("fit.frame.diameter", "Diameter", only_if=("fit.frame.shape", "round"), unit="length"),
        Field(
            "fit.frame.depth",
            "Depth",
            NUMBER,
            "empty: no limit",
            only_if=("fit.frame.shape", "square rectangle round"),
            unit="length",
        ),
        Field("fit.clearance", "Clearance", NUMBER, "between what is not meant to touch", unit="length"),
        Field(
            "fit.directions",
            "Directions",
            GAUGE,
            "so many, equally spaced, in which an arbor may stand; “none” chooses no places",
        ),
        Field(
            "fit.arrange",
            "Arbors stand",
            TEXT,
            "of all places that fit",
            (("", "far apart"), ("balanced", "so that gears balance"), ("first", "in the first that fit")),
            usual="spread",
        ),
        Field(
            "fit.keep_free",
            "Keep free",
            SECTORS,
            "for a label or a hand: “250 to 290” from the right, counterclockwise; no arbor stands there",
            unit="degrees",
        ),
    ),
)
_RANKS = (
    ("", "least error, then fewest parts"),
    ("parts, error", "fewest parts, then least error"),
    ("error, jigs", "least error, then fewest jigs"),
    ("jigs, error", "fewest jigs, then least error"),
    ("error, envelope", "least error, then smallest radius"),
    ("envelope, error", "smallest radius, then least error"),
    ("error, teeth", "least error, then fewest teeth"),
    ("error, largest", "least error, then smallest largest gear"),
    ("error, new_gears", "least error, then fewest new gears"),
    ("new_gears, error", "fewest new gears, then least error"),
)
_SEARCH = Group(
    "search",
    "Search",
    (
        Field("search.rank", "What is best", KEYS, choices=_RANKS, usual="error, parts"),
        Field("search.max_error_pct", "Greatest error allowed", NUMBER, "of each body", unit="%"),
        Field("search.keep", "Solutions to keep", NUMBER),
        Field("search.time_limit_s", "Time limit", NUMBER, "a limit makes the answer less sure, not wrong", unit="s"),
        Field(
            "search.distinct",
            "The same links in another order",
            TEXT,
            "around blank rings",
            (("", "are one solution"), ("order", "are listed by themselves")),
            usual="gears",
        ),
        Field(
            "search.front",
            "Compromises",
            KEYS,
            "every solution that no other one beats in both",
            (("", "none"), ("error, parts", "also error against parts"), ("error, jigs", "also error against jigs"),
             ("error, envelope", "also error against radius"), ("error, new_gears", "also error against new gears")),
        ),
    ),
    "",
    (*SEARCH_MORE, Field("search.prove", "Proofs", FLAG, "takes its time",
                         (("", "once"), ("true", "twice: also by a solver that knows the rules alone")),
                         usual="false")),
    "More limits and proofs",
)  # fmt: skip
_VARY = Group(
    "vary",
    "Try several, one after the other",
    (
        Field(f"{VARIED}rings.tooth_step", "Try these tooth steps", SPAN),
        Field(f"{VARIED}rings.inner_teeth", "Try these innermost rings", SPAN, "their teeth"),
        Field(f"{VARIED}rings.blanks", "Try so many blanks", SPAN),
        Field(f"{VARIED}arbors.third_gears", "Try these third gears", SPAN),
    ),
    "“4, 6, 8” or “4 to 8”: each value, with each of the other fields here, is a design of its own, solved and listed "
    "by itself, in place of what stands above. Empty: one design, which has it all at once.",
    folded=True,
)
GROUPS = (_RINGS, _ARBORS, _WIRE, _FIT, HELD, DRIVE, MADE, _SEARCH, _VARY)
FIELDS = {field.path: field for field in (*BODIES, *(one for group in GROUPS for one in (*group.fields, *group.more)))}


def sets() -> tuple[BodySet, ...]:
    """The body sets to choose from."""
    return tuple(body_sets().values())
