"""Features: pipes, walls and outlines found in the volume, verified in the lines, each with how sure."""
