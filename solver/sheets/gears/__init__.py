"""What is made of a placed train: every gear with its tooth form, jigs, arbors, posts, rollers and stands, weighed.

In: a design and a train. Out: the inventory, how far posts may be moved, how exact gears must be, better teeth.

May import: answer, design, forces, forms, mechanics, search, search.order, search.place,
sheets.hardware.
"""
