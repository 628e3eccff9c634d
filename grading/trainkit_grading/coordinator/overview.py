"""Where notebooks of earlier releases find :func:`overview`; it is in ``reports.coordinator.overview``."""

from trainkit_grading.reports.coordinator.overview import overview

__all__ = ["overview"]
