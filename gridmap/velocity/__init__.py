"""The velocity room."""
