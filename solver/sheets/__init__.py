"""Sheets: what a maker builds from, and the picture of a solution.

In: a design and a solution of its answer. Out: files (SVG, PDF, DXF, HTML, CSV). From the bottom up: `errors`, `draw`
(drawings and their writers), `gears` (what is made), `stock` (bars and how they are cut), `views` (the model from the
front and from the side), `steps` (pictures to build by), `book` (all of it in reading order); each imports only what
stands before it. From the rest of the project: `words`, `design`, `forms`; `views` and `book` also `answer`, and `book`
the store's way to write files.

May import: nothing.
"""
