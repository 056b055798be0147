"""Certificates: that no train is better than an answer's best, as a proof that a stranger can check.

In: a design and its best train. Out: a folder with the claim, the model that follows from it, and the steps of the
proof, written by a solver that is installed for this alone (`pumpkin-solver`). The model is built by the checker's own
code: what is written is what the checker works out from the claim.

May import: answer, check, check.certificate, design, search.
"""
