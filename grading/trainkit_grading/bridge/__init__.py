"""A name of earlier releases that course folders hold: ``nbgrader_config.py`` of a course imports :mod:`.config`."""
