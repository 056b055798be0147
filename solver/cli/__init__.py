"""The commands. Each reads its words, calls one function that a Python user could call, and prints what it returns.

In: words of the command line. Out: tables, documents, an exit code.

May import: all but forms, search.options, search.place, search.reach, service.jobs, service.kept,
service.page, service.processes, sheets.stock.
"""
