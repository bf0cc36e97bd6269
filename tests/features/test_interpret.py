"""Who keeps what when a person's rows meet a new run; nothing that a person said may be missing from the result."""

import numpy as np
import pytest
from shapely import LineString

from gridmap.features import interpret as room
from gridmap.features.interpret import interpret
from gridmap.model import IDENTITY, Features, LinearFeature, OldRow, RejectedCandidate, Said

NAN = float("nan")


def found(x0, x1, y=1.0, depth=0.6):
    x = np.linspace(x0, x1, 20)
    return LinearFeature(np.column_stack([x, 0 * x + y, 0 * x + depth]), 0.03, None, 5.0, 0.9, 5, "same", "n")


def row(name, x0, x1, said, y=1.0, depth=0.6, own=False, candidate=False):
    shape = LineString([(x0, y), (x1, y)])
    return OldRow("linear", name, shape, depth, said, own, candidate, None if own else shape, depth)


@pytest.fixture(autouse=True)
def measured(monkeypatch):
    """A stand-in for the measuring, which is tested on its own: the line at the depth looked for."""

    def measure(ground, path, depth_m):
        x = path.coords[0][0], path.coords[-1][0]
        return found(*x, y=path.coords[0][1], depth=depth_m)

    monkeypatch.setattr(room, "measure_line", measure)


def told(new, old):
    return interpret(Features(linear=tuple(new)), old, IDENTITY, None)


def test_identities_stay_with_the_place_and_are_never_given_twice():
    """The old L2 is found first now; the old L1 is gone and nobody had touched it; the new one becomes L3."""
    old = [row("L1", 0, 5, Said(), y=1.0), row("L2", 0, 5, Said(), y=3.0)]
    got = told([found(0, 5, y=3.05), found(0, 5, y=6.0)], old)
    assert [f.id for f in got.linear] == ["L2", "L3"]


def test_an_accepted_line_found_in_part_keeps_its_length():
    """5 of 10 m are found again: the accepted shape stays, and the piece is among the rejected with the reason."""
    got = told([found(0, 5)], [row("L1", 0, 10, Said("accepted", "seen"))])
    (kept,) = got.linear
    assert kept.shape.length == 10
    assert kept.said == Said("accepted", "seen")
    assert "in part" in kept.remark
    assert ["L1" in r.feature.reason for r in got.rejected] == [True]


def test_an_accepted_line_that_is_found_again_takes_the_new_shape():
    """9.5 of 10 m are found again, 5 cm aside: the machine's shape is the better measured."""
    got = told([found(0.2, 9.7, y=1.05)], [row("L1", 0, 10, Said("accepted"))])
    assert [(f.id, f.shape, f.said.status) for f in got.linear] == [("L1", None, "accepted")]


def test_pieces_of_a_rejected_line_are_rejected_too():
    """It comes back in two pieces: its earlier shape stays, and neither piece is listed as found."""
    got = told([found(0, 4), found(5, 9)], [row("L1", 0, 10, Said("rejected", "a kerb"))])
    assert [(f.id, f.said.status) for f in got.linear] == [("L1", "rejected")]
    assert got.linear[0].shape.length == 10
    assert sorted(r.feature.reason for r in got.rejected) == [
        "is L1, of which a person's shape is kept",
        "part of L1, which a person rejected",
    ]


def test_words_on_what_is_not_found_again_stay_with_a_remark():
    """A note alone is enough to keep a row; its depth is looked for where it was."""
    got = told([], [row("L1", 0, 5, Said("found", "dig here"), depth=0.8)])
    (kept,) = got.linear
    assert kept.said.note == "dig here"
    assert "not found again" in kept.remark
    assert kept.feature.xyz_m[0, 2] == 0.8


def test_a_pipe_at_another_depth_is_another_pipe():
    """A new line in the place of a rejected one, but 0.6 m deeper, is found in its own right."""
    got = told([found(0, 10, depth=1.2)], [row("L1", 0, 10, Said("rejected"))])
    assert sorted((f.id, f.said.status) for f in got.linear) == [("L1", "rejected"), ("L2", "found")]


def test_a_candidate_that_a_person_accepts_is_listed():
    """It takes an identity of a line, keeps the words, and its shape is the person's from now on."""
    said = Said("accepted", "the old drain", by="A")
    got = told([], [row("R4", 0, 5, said, depth=NAN, candidate=True)])
    (kept,) = got.linear
    assert (kept.id, kept.said) == ("L1", said)
    assert kept.shape is not None


def test_a_note_on_a_candidate_stays_with_it():
    """By place where it is a candidate again, else in a row of its own."""
    noted = row("R4", 0, 5, Said("rejected", "a root"), candidate=True)
    again = RejectedCandidate("linear", found(0, 5, y=1.1).xyz_m, "stripe")
    got = interpret(Features(rejected=(again,)), [noted], IDENTITY, None)
    assert [(r.id, r.said.note, r.feature.reason) for r in got.rejected] == [("R4", "a root", "stripe")]
    got = interpret(Features(), [noted], IDENTITY, None)
    assert [(r.id, r.said.note) for r in got.rejected] == [("R4", "a root")]


def test_a_copied_row_gets_an_identity_of_its_own():
    """A GIS that splits a line leaves two rows of one identity: both stay, with their words."""
    one = row("L1", 0, 4, Said("drawn", "west"), own=True)
    two = row("L1", 6, 10, Said("drawn", "east"), own=True)
    got = told([], [one, two])
    assert [(f.id, f.said.note) for f in got.linear] == [("L1", "west"), ("L2", "east")]
