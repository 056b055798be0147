"""Places: where the arbors, third gears, rollers and the motor of one train can stand.

In: a train's teeth, arbor radii and motors (`drive`), as shapes (`shapes`). Out: a placement, or the proof that there
is none (`placing.Fitter`). Between: all places of one shape (`placer`, `places`), distances in whole micrometres that
decide exactly (`measures`), rollers of one ring (`rollers`) and of all (`holder`), what is to blame where there is no
place (`blame`), and the CP-SAT model (`place_model`, of `tables`) for what takes too long to try. For second proofs:
everywhere that things can stand (`standing`), which has the spots (`compass`), lengths and tables in common with these.

May import: constraints, design, search.
"""
