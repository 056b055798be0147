"""The setting sheet: how a model is brought to a date, ring by ring, and the dial that it is set by.

In: a design, a solution, how it is set (`sky.setting`). Out: a page, a book, the dial 1:1, a table of pointers.

May import: answer, design, sheets.book, sheets.draw, sheets.gears, sheets.views, sky, words.
"""
