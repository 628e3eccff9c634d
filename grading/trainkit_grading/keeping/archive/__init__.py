"""A finished course in one file: everything that its figures rest on, and the way back to them years later.

- :mod:`~trainkit_grading.keeping.manifest`: what an archive says of itself and of each of its files
- :mod:`~trainkit_grading.keeping.archive.portable`: the marks as a file of their own, from whatever database
- :mod:`~trainkit_grading.keeping.archive.sources`: packs, modules and software that marks come from
- :mod:`~trainkit_grading.keeping.archive.packing`: making an archive
- :mod:`~trainkit_grading.keeping.archive.opening`: checking one, unpacking it, and working its figures out again
"""
