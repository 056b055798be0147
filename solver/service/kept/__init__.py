"""What is kept of jobs: what was sent, the run folder that it became, the record beside it, and the results as they are
asked for.

In: TOML or JSON; run folders. Out: jobs as they were entered; rows of their solutions.

May import: answer, batch, batch.store, batch.sweep, design, files, service.
"""
