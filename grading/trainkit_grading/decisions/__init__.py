"""What people decide about marks: second markers, appeals, and all that still waits for a decision."""
