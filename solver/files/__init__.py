"""Readers of files: designs, trains that exist, body sets; and the file that a maker begins with.

In: the text of a file. Out: a `Design` or a train, or `DesignError` with a line for each fault.

May import: design, forms, sheets.hardware, words.
"""
