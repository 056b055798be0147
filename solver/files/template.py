"""The commented design file that `new` writes. It is valid as it stands, and the tests solve it."""

from __future__ import annotations

from solver.files import starting
from solver.files.body_sets import body_sets
from solver.words.shown import shown

# (line, comment) pairs; lines that begin with "#" are not in force.
_LINES = """
title = {title}
units = "{units}" ~ "mm" or "in", for all lengths below; changing it does not convert them

[bodies]
set = "{bodies}" ~ `ringwright bodies` lists the sets that ship; leave it out for bodies of your own alone
# only = [{only}] ~ for some bodies of the set
reference = "first" ~ the innermost body is exact; "best": the motor sets a common rate that balances all errors
# sense = "same" ~ (default) all bodies turn as ring 0 does; "reverse": against it; "either"
# [[bodies.list]] ~ a body of your own; or, without a period, a change to the body of that name in the set
# name = "Own body"
# period = "21.5" ~ in the unit of the set; text or number, read exactly as written; "64/9" is one too
# period_range = ["20", "23"] ~ instead of period: any value between is right
# sense = "either"
# max_error_pct = 2.0 ~ this body's own limit
# max_drift = {{degrees = 5, years = 2}} ~ this body alone: no farther off after so long
# grams = 30 ~ what it weighs; 20 unless told

[rings]
inner_teeth = {inner} ~ teeth of the innermost ring: a range, a number like 30, or a list of choices like [24, 30]
tooth_step = {step} ~ every ring has so many more than the one before it; likewise
blanks = {blanks} ~ rings between the bodies that carry none; likewise; where they go is searched
# teeth = [24, [30, 32], {{min = 36, max = 44}}] ~ instead: a number, a list of choices or a range for each ring
tooth_pitch = {pitch} ~ from tooth to tooth along the pitch circle, the same for all gears; or module = {module}
addendum = {addendum} ~ how far the tips stand out beyond the pitch circle
rim = {rim} ~ how far a ring reaches inwards from its pitch circle
level_spacing = {spacing} ~ from ring to ring along the main axis

[arbors]
wheel_teeth = {gears} ~ the gear that works with the inner ring
pinion_teeth = {gears} ~ the gear that works with the outer ring
third_gears = {third} ~ at most so many in the whole train; each turns all rings beyond it about
third_teeth = {thirds}
# stock = [6, 8, 10, 12, 16, 20] ~ only these counts for wheels, pinions and third gears, any number of each
# reverted = false ~ ratios only: no places are computed

[fit]
# frame = {{shape = "square", side = {side}, depth = {depth}}} ~ or rectangle, round
clearance = {clearance} ~ between what is not meant to touch: tip circles, posts, rollers, the frame
# directions = 24 ~ (default) so many equally spaced for the arbors, or a list of degrees; "none": teeth alone
# plate = "inner" ~ posts run to a plate beyond ring 0; "outer": beyond the largest ring; "none": no posts
# post_radius = {post} ~ of the posts, and of the rods that bodies stand on
# stands = "outer" ~ bodies reach out beyond the largest ring; "none": they sit within their level
# unevenness = {uneven} ~ with [wire]: share of a tooth pitch that a mesh may stray from even turning
# rollers = {{count = {{min = 3, max = 5}}, radius = {roller}, reach = 60}} ~ reach in degrees

# [drive]
# motor_rpm = [2, 5] ~ the motors that you have
# pinion_teeth = {{min = 5, max = 12}}
# ring = "any" ~ "inner" or "outer": the ring that the motor works with
# turn = {{body = "{body}", seconds = 40}} ~ how long a revolution should take
# torque_ncm = 60 ~ what the motor gives, as its maker tells it; stall_ncm: when it is held fast
# crank = true ~ instead of motor_rpm: a hand crank; or {{radius = {crank}, rpm = 30}}: its arm, how fast it is turned

# [loads] ~ what the model carries and how it rubs: the sheets work out balance, play and drive from it
# body_at = {{"{body}" = {at}}} ~ from the main axis to the middle of a body's weight; else that of its rod
# roller_friction = 0.2 ~ of rollers on their stubs, brass on brass
# bearing = "ball" ~ of arbors and third gears; or "plain" (greased brass), "dry"; or bearing_friction = 0.0015
# mesh_efficiency = 0.85 ~ what a mesh passes on of what goes in
# hand_n = 20 ~ newtons with which a hand may hold a ring
# play_good_deg = 2 ~ play of a body that is good; bad beyond play_bad_deg = 5

[wire] ~ what the gears are made of: with it they are judged as made, to run and to fit; without it as plain discs
form = "saw" ~ teeth of wire, with pin gears; "curved": more even; of plate: "cycloidal", "involute"
# third = "better" ~ (default) third gears with "pins", or with short "teeth" and pins on the gears behind them
# stock = {bars} ~ lengths of the bars of wire that you have
# loop = "{loop}" ~ wire of the loops: a gauge (AWG or SWG), or a diameter; likewise
# tooth = "{tooth}" ~ of the teeth, and
# pin = "{pin}" ~ of pins and spokes
# kerf = {cut} ~ what each cut of the saw takes
# cleanup = {cut} ~ what each piece is cut longer for filing its ends
# neutral = 0.5 ~ where a bent wire keeps its length: 0 inside, 0.5 its middle, 1 outside of the bend
# jig_pin = {jig} ~ diameter of the pins of a jig around which teeth are bent
# spokes = 3 ~ of each loop of a small gear
# density = 8.48 ~ grams for a cubic centimetre
# sheet = {sheet} ~ instead of wire: the thickness of gears that are cut from plate
# pin_length = {pins} ~ of the pins of small gears; unless told, as long as a ring between their loops needs
# arbor_diameter = {arbor} ~ of the sleeves that turn on the posts; unless told, 2 mm thicker than these
# hub_diameter = {hub} ~ of the middle of small gears; unless told, 4 mm thicker than the arbors
# accuracy = {accuracy} ~ how exactly you make gears: how far teeth, pins and radii may be out
# bearings = 2 ~ of each arbor; also post_screws, roller_screws, set_screws = 1

# [supports] ~ what holds the parts: arms from the frame in each gap; needs [wire] and fit.frame
# model = "wall" ~ hung, the main axis level; "table": on feet, the axis upright
# arm = {arm} ~ diameter of the wire or rod of the arms
# bar = {bar} ~ diameter or width of the frame's bars
# metal = "steel" ~ of arms and bars; or "brass"
# from = "frame" ~ where arms begin; "arms": one may begin on a neighbour, if both stay stiff enough
# sag = {sag} ~ the most that a post, an arm or a ring may bend; a quarter of the addendum unless told

[search]
rank = ["error", "parts"] ~ what decides, in this order: error, parts, jigs, teeth, largest, envelope (radius)
# front = ["error", "jigs"] ~ also every best compromise between two or three of these
max_error_pct = {error} ~ no body may be further off
# max_drift = {{degrees = 5, years = 2}} ~ no body farther off after so many years, each counted by its period
# max_parts = 60 ~ likewise max_jigs, max_teeth, max_largest, max_envelope; no limit unless given
keep = {keep} ~ how many different solutions to return
time_limit_s = {seconds}
seed = 1
# prove = true ~ have all that is proven proven a second time, by a solver that knows the rules alone

# [hardware] ~ what is bought: for the sheets alone; the smallest ball bearing that has room, unless told
# bearing = "plain" ~ none; or a name such as "MR84ZZ", or {{bore = , outside = , width = }}
# screw = "{screw}" ~ of posts and rollers; roller = {{groove_width = , groove_depth = , flange = }}
# spare_pct = 10 ~ bought on top of what is used up or lost
# currency = "EUR"
# prices = {{screw = "0.05", wire = 3}} ~ of one; of wire, rod and tube for {metre}
# bodies = {{"{body}" = {{diameter = {ball}}}}} ~ or km, with body_scale, the length of 1000 km
# label = {{width = {wide}, height = {high}, text = "An orrery"}}
# plate_thickness = {thick} ~ with fit.plate: of the plate that carries the posts

# [bench] ~ your own rates: for the hours on the sheets
# joints_per_hour = 8 ~ likewise bends, cuts, holes, teeth, parts; hours_per_jig, hours_per_pair, rest_pct
"""

_COMMENT_COLUMN = 36


def design_template(
    title: str = "My orrery",
    bodies: str = "saturn",
    only: str = '"Mimas", "Tethys", "Titan"',
    units: str = "mm",
    encoding: str = "utf-8",
) -> str:
    """A commented design for one of the sets that ship; encoding: in which it will be written. Raises KeyError where
    there is no such set."""
    quoted = '"' + "".join(_quoted(char, encoding) for char in title) + '"'
    body = only.split(", ")[-1].strip('"')
    text = _LINES.format(
        title=quoted,
        bodies=bodies,
        body=body,
        only=only,
        inner=_span(starting.INNER_TEETH),
        step=_span(starting.TOOTH_STEP),
        blanks=_span(starting.BLANKS),
        gears=_span(starting.GEAR_TEETH),
        third=starting.third_gears(body_sets()[bodies]),
        thirds=_span(starting.THIRD_TEETH),
        error=starting.MAX_ERROR_PCT,
        keep=starting.KEEP,
        seconds=starting.TIME_LIMIT_S,
        units=units,
        uneven=starting.UNEVENNESS,
        **dict(starting.GAUGES),
        **starting.LENGTHS[units],
    )
    lines = ["# A Ringwright design file. Lines behind a # are not in force: remove the # to use one."]
    for line in text.splitlines()[1:]:
        setting, mark, comment = (line, "", "") if line.startswith("title = ") else line.partition(" ~ ")
        lines.append(f"{setting:<{_COMMENT_COLUMN - 1}} # {comment}" if mark else setting)
    return "\n".join(lines) + "\n"


def _quoted(char: str, encoding: str) -> str:
    """A character of a string of TOML."""
    if char in ('"', "\\"):
        return f"\\{char}"
    try:
        char.encode(encoding)
    except UnicodeEncodeError:
        return f"\\U{ord(char):08x}"
    return char if shown(char) == char else f"\\U{ord(char):08x}"


def _span(span: tuple[int, int]) -> str:
    return f"{{min = {span[0]}, max = {span[1]}}}"
