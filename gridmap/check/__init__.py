"""A map checked against ground that is known."""
