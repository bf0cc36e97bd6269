"""When an arriving file may be judged: a made-up folder in which anything may happen between two looks.

The folder, its files and the clock are played by the test, which knows what `arrivals` must find.
"""

from dataclasses import dataclass

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from gridmap.check.arrivals import (
    Book,
    Patience,
    Stamp,
    look_over,
    take_change,
    take_look,
    take_verdict,
    waiting,
)
from gridmap.read.whole_line import Look

PATIENCE = Patience(rest=2.0, doubt=10.0, stuck=30.0)
NAMES = st.sampled_from(["L1.sgy", "L2.sgy", "L3.sgy", "notes.doc"])
WHOLE = 4  # pieces of a whole file


@dataclass
class File:
    """What stands on the disk: which line's bytes, how many pieces of it."""

    content: int
    pieces: int
    written_s: float
    number: int

    @property
    def digest(self):
        return f"{self.content}/{self.pieces}"

    def stamp(self, step_s):
        """As a file system that counts time in steps tells it."""
        return Stamp(self.pieces, int(self.written_s // step_s * step_s * 1e9), 0, self.number)

    def look(self):
        if self.content < 0:
            return Look("unknown", "no line file")
        return Look("whole", "", self.digest) if self.pieces >= WHOLE else Look("part", "cut short")


class Folder(RuleBasedStateMachine):
    """Files are begun, grow, are finished, replaced, renamed, copied and deleted; the stick is pulled and put back."""

    def __init__(self):
        super().__init__()
        self.now = 0.0
        self.files = {}
        self.book = Book()
        self.stick = True
        self.numbers = 0
        self.verdict = {}  # name -> digest judged
        self.told = []
        self.ever = set()  # digests that have had a verdict

    @initialize(step=st.sampled_from([1e-9, 2.0]))
    def clock(self, step):
        self.step = step

    def put(self, name, content, pieces):
        self.numbers += 1
        self.files[name] = File(content, pieces, self.now, self.numbers)

    @precondition(lambda self: self.stick)
    @rule(name=NAMES, content=st.integers(0, 5), pieces=st.integers(1, WHOLE))
    def begin_or_replace(self, name, content, pieces):
        self.put(name, -1 if name.endswith("doc") else content, pieces)

    @precondition(lambda self: self.stick)
    @rule(name=NAMES)
    def grow(self, name):
        file = self.files.get(name)
        if file and file.pieces < WHOLE:
            file.pieces += 1
            file.written_s = self.now

    @precondition(lambda self: self.stick)
    @rule(name=NAMES, content=st.integers(0, 5))
    def overwrite_in_place(self, name, content):
        """Other bytes of the same length: the file keeps its number, and in coarse steps perhaps its time."""
        file = self.files.get(name)
        if file and file.content >= 0:
            file.content, file.written_s = content, self.now

    @precondition(lambda self: self.stick)
    @rule(old=NAMES, new=NAMES)
    def rename(self, old, new):
        if old in self.files and old != new and old.endswith("doc") == new.endswith("doc"):
            self.files[new] = self.files.pop(old)

    @precondition(lambda self: self.stick)
    @rule(old=NAMES, new=NAMES)
    def copy(self, old, new):
        if old in self.files and old != new and old.endswith("doc") == new.endswith("doc"):
            self.put(new, self.files[old].content, self.files[old].pieces)

    @precondition(lambda self: self.stick)
    @rule(name=NAMES)
    def delete(self, name):
        self.files.pop(name, None)

    @rule()
    def pull_or_put_stick(self):
        self.stick = not self.stick

    @rule(seconds=st.sampled_from([0.1, 0.5, 1.0, 2.5, 7.0]))
    def wait(self, seconds):
        self.now += seconds

    @rule(during=st.sampled_from(["", "", "", "grow", "delete"]))
    def poll(self, during):
        seen = {n: f.stamp(self.step) for n, f in self.files.items()} if self.stick else None
        self.book, events, due = look_over(self.book, seen, self.now, PATIENCE)
        self.hear(events)
        for name in due:
            file = self.files[name]
            before = file.stamp(self.step)
            if during == "grow" and file.pieces < WHOLE:
                file.pieces, file.written_s = file.pieces + 1, self.now
            if during == "delete":
                del self.files[name]
            if name not in self.files or self.files[name].stamp(self.step) != before:
                self.book = take_change(self.book, name, self.now, PATIENCE)
                continue
            look = file.look()
            self.book, events, judge = take_look(self.book, name, look, self.now, PATIENCE)
            self.hear(events)
            if judge:
                assert file.pieces == WHOLE, "a half-written file was judged"
                assert file.content >= 0
                assert self.now - file.written_s >= PATIENCE.rest - self.step, (
                    "a file was judged before it rested"
                )
                self.book = take_verdict(self.book, name, look.digest)
                self.verdict[name] = look.digest
                self.ever.add(look.digest)

    def hear(self, events):
        for event in events:
            self.told.append((event.kind, event.name))
            if event.kind == "renamed":
                self.verdict[event.name] = self.verdict.pop(event.other)
            if event.kind == "copy":
                self.verdict[event.name] = self.verdict[event.other]

    @invariant()
    def a_verdict_names_bytes_that_were_judged(self):
        for name, entry in self.book.files.items():
            if entry.phase == "judged":
                assert self.verdict[name] == entry.digest
                assert entry.digest in self.ever

    def quiet(self):
        """Let everything rest with the stick in, polling all the while."""
        self.stick = True
        for _ in range(60):
            self.now += 1.0
            self.poll("")

    @rule()
    def in_the_end_nothing_is_missed(self):
        """Whatever happened before, after a rest each file has the verdict of its bytes, or is told of."""
        self.quiet()
        for name, file in self.files.items():
            entry = self.book.files[name]
            if file.content < 0:
                assert entry.phase == "aside"
                assert ("aside", name) in self.told
            elif file.pieces < WHOLE:
                assert entry.phase == "stuck"
                assert ("stuck", name) in self.told
            else:
                assert entry.phase == "judged"
                assert self.verdict[name] == file.digest
        for name, entry in self.book.files.items():
            assert (entry.gone_s is None) == (name in self.files)
            if name not in self.files:
                assert ("gone", name) in self.told
        assert all(entry.phase != "arriving" for _, entry in waiting(self.book))

    def teardown(self):
        if hasattr(self, "step"):
            self.in_the_end_nothing_is_missed()


TestFolder = Folder.TestCase
TestFolder.settings = settings(max_examples=80, stateful_step_count=40, deadline=None)


def play(steps):
    """Poll at the times of `steps` with the files then there; give what is told, as (seconds, kind, name)."""
    book, told = Book(), []
    for now, files in steps:
        seen = None if files is None else {n: f.stamp(1e-9) for n, f in files.items()}
        book, events, due = look_over(book, seen, now, PATIENCE)
        for name in due:
            look = files[name].look()
            book, more, judge = take_look(book, name, look, now, PATIENCE)
            events += more
            if judge:
                book = take_verdict(book, name, look.digest)
                told.append((now, "judged", name))
        told += [(now, e.kind, e.name) for e in events]
    return told


def test_pause_in_the_middle_of_a_copy_is_sat_out():
    """A copy that rests for 20 s within a trace is not judged then, but 2 s after its last piece."""
    part, whole = File(1, 2, 0, 1), File(1, WHOLE, 20, 1)
    told = play([(t, {"L1.sgy": part if t < 20 else whole}) for t in range(30)])
    assert told == [(22, "judged", "L1.sgy")]


def test_verdict_is_taken_back_when_a_file_grows_after_all():
    """A copy that stopped at the end of a trace cannot be told from a whole file; its verdict does not outlive it."""
    short, long = File(1, WHOLE, 0, 1), File(1, WHOLE + 2, 8, 1)
    told = play([(t, {"L1.sgy": short if t < 8 else long}) for t in range(15)])
    assert told == [(2, "judged", "L1.sgy"), (8, "changed", "L1.sgy"), (10, "judged", "L1.sgy")]


def test_rename_keeps_the_verdict_and_is_told_once():
    """The same bytes under a new name, the old name gone: one line, not two, and none is said to be gone."""
    file = File(1, WHOLE, 0, 1)
    told = play([(t, {"A.sgy" if t < 5 else "B.sgy": file}) for t in range(20)])
    assert told == [(2, "judged", "A.sgy"), (7, "renamed", "B.sgy")]


def test_pulled_stick_is_told_once_and_nothing_is_judged_anew():
    """Files that are there again as they were keep their verdict in silence."""
    file = File(1, WHOLE, 0, 1)
    told = play([(t, None if 5 <= t < 12 else {"A.sgy": file}) for t in range(25)])
    assert told == [(2, "judged", "A.sgy"), (5, "lost folder", ""), (12, "found folder", "")]


def test_two_files_of_the_same_bytes_are_a_copy():
    """A line saved under two names is told, since one of the two was meant to be another line."""
    told = play([(t, {"A.sgy": File(1, WHOLE, 0, 1), "B.sgy": File(1, WHOLE, 0, 2)}) for t in range(9)])
    assert told == [(2, "judged", "A.sgy"), (2, "copy", "B.sgy")]
