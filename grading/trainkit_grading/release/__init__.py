"""From settings to what apprentices open: founding a course, checking, building, previewing, giving out."""
