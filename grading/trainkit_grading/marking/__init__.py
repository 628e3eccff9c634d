"""From journals to marks: scoring, its worker pool, marked notebooks, and nbgrader's autograde step."""
