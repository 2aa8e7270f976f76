"""Public weather services → checked tables: one small module a service, one door to the network.

Nothing here is imported by the readers of files, and `requests` only by `session` and `guard`, so
that a command that fetches nothing stays quick. Each service is a pure function that makes a
`Request` and a pure function that turns the answer into a table; `Fetcher` alone reaches out.
"""
