"""The sky: where each body of a design stands at a date, in the mean and truly, and what its ring then shows.

In: a design, a moment. Out: longitudes and angles [degrees], or `SkyError` in one line.

May import: answer, design, files, words.
"""
