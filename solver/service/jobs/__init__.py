"""The jobs of a service: submitted, durable, solved as their turns come, stopped, listed, read.

In: submissions, and orders to stop, resume or remove. Out: jobs as they are now.

May import: answer, batch.store, batch.sweep, design, files, service, service.kept, service.processes.
"""
