"""A placed train as drawings, all to scale: the picture, the placement sheet, the drilling plan, templates and bars.

In: a design and a train, or a jig's plan, or bars. Out: drawings, and the picture as SVG. `model` says what stands
where; `outlines` (from the front) and `edge_on` (from the side) are what the picture and the placement sheet share.

May import: answer, design, forms, search, sheets.draw, sheets.gears, sheets.supports, words.
"""
