"""The caution that goes wherever a map could lead to digging; written here once."""

from __future__ import annotations

CAUTION = (
    "This map shows where radar reflections were recorded. A blank area is not proof that nothing is buried. "
    "Depths rest on an estimated velocity. Before digging obtain records, contact the one-call service, "
    "locate on site and expose by hand or vacuum. Follow local codes and licensed practice."
)
"""The full text, for reports, pages, pictures, screens and the metadata of files."""

CAUTION_SHORT = (
    "Radar reflections only: a blank area is not proof that nothing is buried, and depths are estimates. "
    "Locate and expose before digging."
)
"""One line, for places too small for the full text."""

NOTHING_FOUND = "No feature was found that is sure enough to list. An empty list is no proof of empty ground."
"""Where a list of features is empty."""
