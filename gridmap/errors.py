"""The error tree and the exit codes.

::

    GridmapError                     something stopped the job
    ├── InputError        exit 2     the user's input is wrong; nothing was written
    │   ├── ReadError                a file cannot be read, or is not what it says
    │   ├── SiteError                the site file: a key, a line, a value
    │   ├── PlaceError               positions or control points that cannot be right
    │   └── OutputError              the output folder cannot be used
    └── OurFaultError     exit 3     a promise inside gridmap was broken

    GridmapWarning        exit 1     the job is done, but something needs attention

Messages say what is wrong, where (file, line name, trace, key) and what to do, on one line.
"""

from __future__ import annotations

EXIT_DONE = 0
EXIT_ATTENTION = 1
EXIT_INPUT = 2
EXIT_OURS = 3


class GridmapError(Exception):
    """Root of every error that gridmap raises on purpose."""

    exit_code = EXIT_OURS


class InputError(GridmapError, ValueError):
    """The user's input is wrong; nothing was written."""

    exit_code = EXIT_INPUT


class ReadError(InputError):
    """A data file cannot be read, or does not hold what its headers promise."""


class SiteError(InputError):
    """The site file is wrong; the message names the key and the fix."""


class PlaceError(InputError):
    """Positions, control points or co-ordinate systems that cannot be right."""


class OutputError(InputError):
    """The output folder cannot be used."""


class OurFaultError(GridmapError, RuntimeError):
    """A promise inside gridmap was broken; please report it."""


class GridmapWarning(UserWarning):
    """The job goes on, but a person should look at something."""
