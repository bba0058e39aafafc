"""The forward-chaining engine: the only place that imports experta.

Importing this package loads experta once, repaired and silenced (see ``repair``); it must happen
at start-up, never first inside a request.
"""
