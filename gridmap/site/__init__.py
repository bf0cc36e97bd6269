"""The site file: grid, control points, antenna, ground, lines and choices, from TOML to checked records."""
