"""Stored runs: folders that are written whole or not at all, with hashes of all that is in them and where it came from.

In: an answer and the text of its design. Out: a folder; and what is read of one, nothing damaged among it.

May import: answer, answer.certificate, check.certificate, design.
"""
