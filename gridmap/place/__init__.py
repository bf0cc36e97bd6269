"""The place room."""
