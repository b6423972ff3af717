"""The live page: a design in the browser that is computed while it is changed.

The page holds the design, as the text of its case file, and its history. It asks for what it shows; a server on this
machine answers with the geometry at once, and hands the computing to a process that always takes the newest request.
All figures come from the public API (:mod:`stringflux.cases`), by the entries of :mod:`.answers`.
"""
