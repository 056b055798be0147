"""Forces: balance, friction, torque and play of a model, as pure functions of its shafts, weights and lengths.

In: a train, and what its parts weigh and how they rub, as plain data. Out: moments [N mm], angles [degrees], forces
[N]. Rates between shafts are exact. Nothing here decides which train is the best.

May import: design, mechanics.
"""
