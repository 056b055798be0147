"""What holds the parts of a model without a plate: the frame of bars, and in each gap the arms that are built.

In: a design with a table [supports] and a placed train. Out: bars and arms as they stand, their wire, joints and
weights. Which arms are clear the judge says.

May import: check, design, forms, mechanics, sheets.gears.
"""
