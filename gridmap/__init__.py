"""Ground-penetrating-radar lines walked over a grid, turned into a plan of what lies below."""

from gridmap._version import VERSION as __version__

__all__ = ["__version__"]
