"""Wire and rod: the pieces an inventory needs, and the fewest and shortest bars that they are cut from, with proof.

In: an inventory. Out: cuts and packings.

May import: design, forms, sheets.gears, sheets.supports.
"""
