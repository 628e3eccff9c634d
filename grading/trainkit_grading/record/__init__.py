"""What goes into the ledger: marks and their provenance, sessions, moves between cohorts."""
