"""The condition room."""
