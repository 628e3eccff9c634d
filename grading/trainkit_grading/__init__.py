"""The course side of trainkit: forms and keys, collecting, marking, reports."""

__version__ = "0.1.0"
