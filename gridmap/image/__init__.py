"""The image room."""
