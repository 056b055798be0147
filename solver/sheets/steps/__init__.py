"""Pictures to build by: a number for every part, a picture for every step of assembly, and the model pulled apart.

In: an inventory, and the names of what is there and what is added. Out: drawings. `numbers` is the one numbering of the
pack, `holding` that of frame and arms; `things` says where every part stands; `from_front`, `from_side` and `callouts`
draw parts and their numbers; `picture`, `board` and `exploded` put them on paper.

May import: design, sheets.draw, sheets.gears, sheets.supports, sheets.views, words.
"""
