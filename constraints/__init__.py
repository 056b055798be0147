"""The rules of a ring train, each one module that states it to CP-SAT.

A rule is a small frozen class with a `name` (the word used in messages) and `post(train)`. Rules know the
variables of a train (`constraints.train`) or of its places (`constraints.places`) and their own numbers, nothing of
files, stores or terminals.

May import: nothing.
"""
