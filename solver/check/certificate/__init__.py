"""The checker of certificates: whether a claim about all trains follows, step by step, from what it rests on.

In: a folder with a certificate. Out: what holds of it, or the step and the line that do not. Imports the standard
library alone, no other part of this program: it is to be read whole by somebody who trusts none of it. Read `claim`
(what is claimed), `model` (what each train keeps), `logs` (rounding), `proof` (the steps), `check` (the three checks).

May import: nothing.
"""
