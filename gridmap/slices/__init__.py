"""The slices room."""
