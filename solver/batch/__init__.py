"""What is done with stored runs, of designs and of sweeps alike: ranked, listed, solved again and compared.

In: folders of runs. Out: tables, CSV and JSON of their solutions; what differs.

May import: answer, batch.store, batch.sweep, design, files, search, words.
"""
