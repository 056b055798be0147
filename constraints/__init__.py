"""The rules of a ring train, each one module that states it to CP-SAT.

A rule is a small frozen class with a `name` (the word used in messages). One that looks at a single link says of a
choice whether it `allows` it, or for how far out the arbor may stand its `span` (`constraints.link`); one that looks at
more than that has `post(train)`, which states it on the variables of a whole design (`constraints.train`) or of a
train's places (`constraints.places`). Rules know their own numbers, nothing of files, stores or terminals.

May import: nothing.
"""
