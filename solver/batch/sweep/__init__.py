"""Sweeps: a base design and what is varied in it, solved point by point, durable at every moment.

In: a sweep file. Out: its run: a table of jobs while it goes on, Parquet at its end.

May import: answer, batch.store, design, files, processes, search, search.order.
"""
