"""What a watch says of each file as it happens, and in its summary."""

from __future__ import annotations

from collections.abc import Sequence

from gridmap.check.arrivals import Event
from gridmap.check.finding import SEVERITIES, Severity
from gridmap.check.finding_words import finding_words
from gridmap.pipeline.watch import Judged, Row

STANDING: dict[Severity | None, str] = {
    "walk again": "WALK AGAIN",
    "attention": "look",
    "note": "good",
    None: "good",
}
"""What a line is called by the worst that was found on it."""
_EVENTS = {
    "changed": "is written again; its verdict is taken back until it is whole",
    "again": "is there with the same bytes as before; its verdict holds",
    "gone": "is gone from the folder; its verdict stays in the summary",
    "renamed": "is {other} under a new name; the verdict holds",
    "copy": "has the same bytes as {other}: was a line saved twice, or the wrong one exported?",
    "stuck": "is not whole and does not grow: {why}",
    "aside": "is set aside, it is no line file: {why}",
    "lost folder": "The folder is gone. Was the stick pulled or the network lost? Waiting for it.",
    "found folder": "The folder is back.",
}


def event_words(event: Event) -> str:
    """Say what happened to a file or to the folder, in one line."""
    words = _EVENTS[event.kind].format(other=event.other, why=event.why)
    return f"{event.name} {words}" if event.name else words


def judged_words(name: str, judged: Judged) -> list[str]:
    """Say a line's verdict: a row with its name and facts, then a row for each finding above a note."""
    head = f"{STANDING[judged.severity]:<10}  {name}" + (f"  {judged.facts}" if judged.facts else "")
    return [
        head,
        *(f"            {finding_words(f, judged.placed)}" for f in judged.findings if f.severity != "note"),
    ]


def summary_words(rows: Sequence[Row]) -> list[str]:
    """Say how the lines stand: counts, then what must be walked again, looked at, or is not whole."""
    lines = [row for row in rows if row.judged is not None]
    pending = [row for row in rows if row.judged is None]
    if not rows:
        return ["No line file has arrived."]
    count = {s: sum(row.judged is not None and row.judged.severity == s for row in rows) for s in SEVERITIES}
    good = len(lines) - count["walk again"] - count["attention"]
    said = [
        f"{len(lines)} line{'s' * (len(lines) != 1)} judged: {good} good, {count['attention']} to look at,"
        f" {count['walk again']} to walk again"
        + (f"; {len(pending)} file{'s' * (len(pending) != 1)} not judged." if pending else ".")
    ]
    for severity, title in (("walk again", "Walk again"), ("attention", "Look at")):
        held = [row for row in lines if row.judged is not None and row.judged.severity == severity]
        if held:
            said += ["", title]
        for row in held:
            assert row.judged is not None
            said.append(f"  {row.name}{_note(row)}")
            said += [
                f"    {finding_words(f, row.judged.placed)}"
                for f in row.judged.findings
                if f.severity == severity
            ]
    if pending:
        said += ["", "Not judged"]
        said += [f"  {row.name}: {row.note}" for row in pending]
    noted = [
        row for row in lines if row.note and row.judged is not None and row.judged.severity in (None, "note")
    ]
    if noted:
        said += ["", "Good, with a remark"]
        said += [f"  {row.name}{_note(row)}" for row in noted]
    return said


def needs_attention(rows: Sequence[Row]) -> bool:
    """Say whether a line must be walked again, a file is not whole, or a line is there twice."""
    return any(
        row.judged is None or row.judged.severity == "walk again" or "same bytes" in row.note for row in rows
    )


def _note(row: Row) -> str:
    return f" ({row.note})" if row.note else ""
