"""The sheets of a solution in reading order: lists, build order and drawings as one page, one book and many files.

In: a design and a solution. Out: a folder, written whole or not at all.

May import: answer, batch.store, design, forces, forms, mechanics, search, sheets, sheets.draw, sheets.gears,
sheets.steps, sheets.stock, sheets.supports, sheets.views, words.
"""
