"""Processes of the service and their ends in the server: they validate, solve, explain, make sheets; whose turn it is.

In: a submission, a run folder. Out: what is told of it, as it happens.

May import: answer, batch.store, batch.sweep, design, files, processes, search, search.order, search.why, service,
service.kept, sheets, sheets.book, words.
"""
