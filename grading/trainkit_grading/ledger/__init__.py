"""The ledger: every mark ever given, what it comes from, who changed what and why; added to, never changed.

nbgrader's gradebook holds one submission for each apprentice and module; it is what the ledger comes to at the moment.

- :mod:`~trainkit_grading.ledger.tables`: the tables, and :mod:`~trainkit_grading.ledger.versions`: making and renewing
  them
- :mod:`~trainkit_grading.ledger.entries`: what an entry says, and the seal that binds it to the one before it
- :mod:`~trainkit_grading.ledger.book`: adding and reading
- :mod:`~trainkit_grading.ledger.likeness`: answers that several people share
- :mod:`~trainkit_grading.ledger.verifying`: proving that nothing was changed
"""
