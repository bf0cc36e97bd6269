"""The volume room."""
