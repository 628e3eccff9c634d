"""All tests. Helpers are imported by their whole names: ``from tests.trainkit.second_ways import ways``."""
