"""The sheets of a solution in reading order: lists, build order and drawings as one page, one book and many files.

In: a design and a solution. Out: a folder, written whole or not at all. Imports all other packages of sheets, `words`,
`design`, `answer`, `forms`, and of the store the way to write files.
"""
