"""Simulated apprentices: they answer through the public response types and the same journal code as people do."""

from __future__ import annotations

from trainkit_grading.cli.simulate.habits import Habits, answer, answer_form, cohort, shown_by

__all__ = ["Habits", "answer", "answer_form", "cohort", "shown_by"]
