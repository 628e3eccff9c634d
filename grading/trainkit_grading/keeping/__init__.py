"""Keeping a course: proving its records, packing it, forgetting a person."""
