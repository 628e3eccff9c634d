"""nbgrader works in a course folder as it always does; this package is what it meets there.

``config`` writes and applies nbgrader's settings, ``exporter`` and ``preprocessors`` let ``nbgrader autograde`` mark
journals without a kernel, ``notebooks`` makes the readable marked notebook, ``gradebook`` writes and reads marks.
"""
