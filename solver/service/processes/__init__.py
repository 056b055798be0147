"""Processes of the service and their ends in the server: those that validate, solve and make sheets; whose turn it is.

In: a submission, a run folder. Out: what is told of it, as it happens.

May import: answer, batch.store, batch.sweep, design, processes, search, search.order, service, service.kept,
sheets, sheets.book, words.
"""
