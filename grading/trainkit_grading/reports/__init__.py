"""Pages and tables for apprentice, instructor and coordinator."""
