"""Files that a rule of numbered lines lacks."""

from pathlib import Path

from gridmap.site.absent import with_absent


def _names(files, count=None):
    return [p.name for p in with_absent([Path("lines") / f for f in files], count)]


def test_gap_in_the_numbers_is_filled():
    """L003 is lacking, as wide in digits as the others."""
    assert _names(["L001.sgy", "L002.sgy", "L004.sgy", "L005.sgy"]) == [f"L{k:03d}.sgy" for k in range(1, 6)]


def test_row_goes_on_to_its_count():
    """Two of six lines are there while the survey is being walked."""
    assert _names(["L1.sgy", "L2.sgy"], 6) == [f"L{k}.sgy" for k in range(1, 7)]


def test_names_that_tell_nothing_stay_as_they_are():
    """No numbers, more files than stated, or one file alone."""
    assert _names(["east.sgy", "west.sgy"]) == ["east.sgy", "west.sgy"]
    assert _names(["L1.sgy", "L2.sgy", "L3.sgy"], 2) == ["L1.sgy", "L2.sgy", "L3.sgy"]
    assert _names(["L7.sgy"]) == ["L7.sgy"]
