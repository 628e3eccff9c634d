"""Forgetting somebody: their name and their words leave the course, and what they earned stays as nobody's.

- :mod:`~trainkit_grading.keeping.forget.traces`: how a name is found again, however it was written
- :mod:`~trainkit_grading.keeping.forget.strike`: the database: the person's row, their words, nbgrader's rows
- :mod:`~trainkit_grading.keeping.forget.places`: the course folder and the shared disk: what lies where
- :mod:`~trainkit_grading.keeping.forget.lines`: the roster
- :mod:`~trainkit_grading.keeping.forget.forget`: all of it, in an order that can be taken up again
"""
