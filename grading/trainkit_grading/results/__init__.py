"""What a course has come to: sums, results, the marks of a class as columns, readiness."""
