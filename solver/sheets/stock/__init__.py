"""Wire and rod: the pieces an inventory needs, and the fewest and shortest bars that they are cut from, with proof.

In: an inventory. Out: cuts and packings. Imports `design`, `forms` and `gears`.
"""
