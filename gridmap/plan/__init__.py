"""Planning before the walk: what can be seen, with which antenna, and where to walk. Pure numbers."""
