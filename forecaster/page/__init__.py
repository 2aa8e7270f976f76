"""The local web page: the whole job in a browser, on this computer alone.

It asks `answers/`, `plan/` and `book/` and says it with `words/` and `charts/`; nothing of it is
imported by another room but by the command that opens it.
"""
