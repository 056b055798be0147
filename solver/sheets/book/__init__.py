"""The sheets of a solution in reading order: lists, build order and drawings as one page, one book and many files.

In: a design and a solution. Out: a folder, written whole or not at all.

May import: answer, batch.store, design, forms, mechanics, search, sheets, sheets.draw, sheets.gears, sheets.stock,
sheets.views, words.
"""
