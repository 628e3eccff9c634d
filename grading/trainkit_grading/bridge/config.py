"""Where course folders of earlier releases find :func:`configure`; the settings are in ``nbgrader_bridge.config``."""

from trainkit_grading.nbgrader_bridge.config import configure

__all__ = ["configure"]
