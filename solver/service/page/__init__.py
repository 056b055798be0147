"""The pages: HTML that can be read without a script; the form, the table of solutions, the plot, the model that turns.

In: jobs and their results. Out: HTML, and a solution in motion as data.

May import: answer, batch.store, batch.sweep, design, files, service, service.jobs, service.kept, sheets.draw,
sheets.gears, sheets.supports, sky, words.
"""
