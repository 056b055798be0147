"""The commented design file that `new` writes. It is valid as it stands, and the tests solve it."""

TEMPLATE = """# A Ringwright design file. Every line that is commented out shows its default or an example.
title = {title}
units = "mm"                        # or "in": all lengths below

[bodies]
set = "{bodies}"                      # `ringwright bodies` lists the sets that ship
# only = [{only}]         # some bodies of the set
reference = "first"                 # "best": the common rate is free, the motor sets it
# sense = "same"                    # for all bodies that do not say their own: "same", "reverse" or "either"
# [[bodies.list]]                   # an own body; or, without a period, a change to a body of the set
# name = "Own body"
# period = "15.945421"              # in the unit of the set; text or number, read exactly as written
# period_range = ["12", "18"]       # instead of period: any value between is right
# sense = "either"
# max_error_pct = 2.0               # this body's own limit

[rings]
inner_teeth = {inner}                    # teeth of the innermost ring
tooth_step = {step}                      # every ring has so many more than the one before it
blanks = {blanks}                          # rings that carry no body; where they go is searched
# teeth = [24, [30, 32], {{min = 36, max = 44}}]   # instead: a number, a list of choices or a range for each ring
tooth_pitch = 12.0                  # along the pitch circle; or module = 4.0
addendum = 4.0
rim = 6.0
level_spacing = 14.0

[arbors]
wheel_teeth = {{min = 5, max = 24}}   # the gear on the inner ring's side
pinion_teeth = {{min = 5, max = 24}}  # the gear on the outer ring's side
third_gears = 0                     # at most so many in the whole train; each reverses all rings beyond it
third_teeth = {{min = 6, max = 20}}
# stock = [6, 8, 10, 12, 16, 20]    # if given, only these counts for wheels, pinions and third gears
# reverted = true                   # false: ratios only, no places are computed

[fit]
clearance = 1.5                     # between tip circles that are not meant to touch

[search]
rank = ["error", "parts"]           # further keys: jigs, teeth, largest, envelope
max_error_pct = 50
# max_parts = 60                    # likewise max_jigs, max_teeth, max_largest, max_envelope
keep = 10                           # how many different gearings to return
time_limit_s = 60
seed = 1
"""


def design_template(title: str = "My orrery", bodies: str = "saturn", only: str = '"Mimas", "Tethys", "Titan"') -> str:
    """A commented design for one of the sets that ship."""
    inner, step, blanks = (30, 4, 3) if bodies == "saturn" else (24, 6, 0)
    quoted = '"' + title.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return TEMPLATE.format(title=quoted, bodies=bodies, only=only, inner=inner, step=step, blanks=blanks)
