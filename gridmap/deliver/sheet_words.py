"""Checklists of the field sheet: what to have in hand before, during and after the walk."""

from __future__ import annotations

CHECKLISTS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Consent and law, before going",
        (
            "Owner's and occupier's consent in writing; neighbours told; heritage or burial licence where needed",
            "Radio: this radar may be used here, licence carried (many countries limit ground radar)",
            "Records of buried services asked for; one-call service told where there is one",
            "Human remains or police matter: who decides and whom to call is agreed beforehand",
            "Suspected munitions: no access until a specialist's plan; a radar map is no clearance",
        ),
    ),
    (
        "Safety on site",
        (
            "Traffic, slopes, water, livestock, overhead wires and weather looked at; risk sheet signed",
            "Two people at least; first aid, telephone and meeting point known",
            "Tanks: no flame, no probing; smell of fuel: leave and report",
            "Pegs and probes only where no service can lie, after locating",
        ),
    ),
    (
        "Before the first line",
        (
            "Both diagonals of the grid measured and written down",
            "Pegs tied to control; corners photographed; north arrow on the sketch",
            "Wheel tested over 20 m of tape on this ground: ______ m shown for ______ m",
            "Antenna height above ground: ______ m; warm-up done; time zero steady",
            "Recorder set as on page 1; a test line over something of known depth: ______ m",
            "Fences, walls, vehicles, wires and trees near the grid drawn on the plan",
        ),
    ),
    (
        "While walking",
        (
            "Each line ticked with its file number; direction changed on the sheet where walked otherwise",
            "At an obstacle: stop the line and begin a new one behind it; do not swing round it",
            "Bumped, lifted, stopped or backed up: walk the line again",
        ),
    ),
    (
        "Before leaving",
        (
            "Number of files equals number of ticks; one file opened and looked at; all copied twice",
            "Pegs removed or left as agreed; ground left as found; owner told",
        ),
    ),
)
"""Heading and rows to tick (common practice; Health and Safety Executive, HSG47, for services)."""

VERDICT = {
    "yes": "Yes: it can be seen at this depth.",
    "perhaps": "Perhaps: it may be seen, and may be missed. Walk a test line first.",
    "no": "No: it cannot be seen like this. Do not expect radar to find it here.",
}
"""What is printed of whether the target can be seen."""

SHAPES = {"line": "long and thin", "body": "compact", "layer": "flat and wide"}

_DAY_H = 8.0


def hours_words(hours: float) -> str:
    """Say a time on site, in days of eight hours where it is more than one."""
    days = f", {hours / _DAY_H:.1f} days" if hours > _DAY_H else ""
    return f"about {hours:.1f} hours{days}"
