"""Exports: results, marks, readiness and observations as tables with a documented schema that stays.

================  ===========================================================================
:mod:`.schema`    the tables and their columns, as data; docs/formats.md has the same
:mod:`.people`    who stands in a row: themselves, or a pseudonym
:mod:`.rows`      the rows of each table
:mod:`.export`   CSV, XLSX, and the description of the tables beside them
================  ===========================================================================
"""
