"""The server: socket, guard, routes, problem documents, streams of progress, the OpenAPI document.

In: requests. Out: what `Jobs` and the pages answer.

May import: answer, batch, batch.store, batch.sweep, design, files, service, service.jobs, service.kept, service.page,
service.processes, sheets.views, sky, version, words.
"""
