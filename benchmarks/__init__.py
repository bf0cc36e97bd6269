"""Speed measurements, and the simulated surveys they run on. Not part of the installed package."""
