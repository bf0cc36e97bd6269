"""What a watch says: every line once, what to do, and nothing that is not so."""

from gridmap.check.arrivals import Event
from gridmap.check.finding import Finding
from gridmap.check.finding_words import stretch_words
from gridmap.pipeline.watch import Judged, Row
from gridmap.pipeline.watch_words import (
    event_words,
    judged_words,
    needs_attention,
    summary_words,
)

NAN = float("nan")
LIFTED = Finding("Y02", "lifted", "walk again", 8.24, 9.01, 165, 181, (), "4 cm off the ground",
                 "Walk this stretch again.")  # fmt: skip
WEAK = Finding("Y03", "weak", "attention", NAN, NAN, None, None, (), "signal 8 dB below the others")


def test_stretch_is_rounded_outwards():
    """What is walked again is never shorter than what is bad."""
    assert stretch_words(LIFTED) == "8.2 to 9.1 m"
    assert stretch_words(WEAK) == ""


def test_verdict_says_stretch_fault_and_what_to_do():
    """One row for the line, one for what is wrong; a note is not told at once."""
    head, row = judged_words("Y02.sgy", Judged("412 traces", (LIFTED,)))
    assert head == "WALK AGAIN  Y02.sgy  412 traces"
    assert row.strip() == "8.2 to 9.1 m: antenna lifted: 4 cm off the ground. Walk this stretch again."
    note = Finding("Y02", "level", "note", NAN, NAN, None, None, (), "a little louder")
    assert judged_words("Y02.sgy", Judged("412 traces", (note,))) == ["good        Y02.sgy  412 traces"]


def test_summary_counts_every_row_once():
    """Good, to look at, to walk again and not judged add up to what arrived."""
    rows = [Row("Y01.sgy", Judged()), Row("Y02.sgy", Judged("", (LIFTED,))), Row("Y03.sgy", Judged("", (WEAK,))),
            Row("Y04.sgy", None, "cut short in trace 20"),
            Row("Y05.sgy", Judged(), "same bytes as Y01.sgy")]  # fmt: skip
    said = summary_words(rows)
    assert said[0] == "4 lines judged: 2 good, 1 to look at, 1 to walk again; 1 file not judged."
    text = "\n".join(said)
    for row in rows[1:]:
        assert text.count(row.name) == 1
    assert "cut short in trace 20" in text
    assert needs_attention(rows)
    assert not needs_attention(rows[:1])
    assert needs_attention(rows[4:])
    assert needs_attention(rows[3:4])
    assert summary_words([]) == ["No line file has arrived."]


def test_every_event_has_words():
    """Whatever happens to a file is told with its name, once."""
    for kind in ("changed", "again", "gone", "renamed", "copy", "stuck", "aside"):
        said = event_words(Event(kind, "Y01.sgy", "Y00.sgy", "reason"))
        assert said.startswith("Y01.sgy ")
        assert "{" not in said
    assert "stick" in event_words(Event("lost folder"))
