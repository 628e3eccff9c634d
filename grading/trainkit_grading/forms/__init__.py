"""Forms and keys: drawn from the seed, made equally hard, kept a line each, and searched for leaks."""
