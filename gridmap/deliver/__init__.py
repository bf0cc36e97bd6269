"""The deliver room."""
