"""The examples of DEVELOPERS.md do what the guide says."""

import re
import types
from pathlib import Path

import numpy as np
import pytest

from gridmap.deliver.caution import CAUTION
from gridmap.errors import ReadError

ROOT = Path(__file__).parents[1]


def example(name):
    """Run the example whose first row names the module `name`, and return what it defines."""
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    code = next(
        c
        for c in re.findall(r"^```python\n(.*?)^```", text, re.S | re.M)
        if c.startswith(f"# gridmap/{name}\n")
    )
    space = {}
    exec(compile(code, name, "exec"), space)
    return types.SimpleNamespace(**space)


def file_of(folder, values, interval_ps=200):
    path = folder / "T01.3s"
    counts = np.array([*values.shape, interval_ps], "<u4").tobytes()
    path.write_bytes(b"THREES1\n" + counts + values.astype("<f4").tobytes())
    return path


def test_the_readers_example_reads_its_format(tmp_path):
    """Traces, interval and name come back as written, and the argument overrules the file."""
    guide = example("read/threes.py")
    values = np.arange(12, dtype=np.float32).reshape(3, 4)
    path = file_of(tmp_path, values)
    line = guide.read_threes(path)
    assert guide.looks_like_threes(path.read_bytes()[:64])
    assert (line.name, line.sample_interval_ns, line.traces.dtype) == ("T01", 0.2, np.float32)
    np.testing.assert_array_equal(line.traces, values)
    assert guide.read_threes(path, sample_interval_ns=0.5).sample_interval_ns == 0.5


@pytest.mark.parametrize("keep", [0, 7, 19, 21, 67])
def test_the_readers_example_refuses_a_file_that_is_cut(tmp_path, keep):
    """A cut file ends in a ReadError that names it, whatever its length."""
    path = file_of(tmp_path, np.zeros((3, 4)))
    path.write_bytes(path.read_bytes()[:keep])
    with pytest.raises(ReadError, match=r"T01\.3s"):
        example("read/threes.py").read_threes(path)


def test_the_readers_example_names_the_trace_that_holds_nan(tmp_path):
    """NaN is refused by trace number, counted from 1."""
    values = np.zeros((3, 4))
    values[1, 2] = np.nan
    with pytest.raises(ReadError, match="trace 2"):
        example("read/threes.py").read_threes(file_of(tmp_path, values))


def test_the_steps_example_clips_and_leaves_its_input_alone():
    """Samples beyond the limit are set to it, in a new float32 array."""
    traces = np.array([[-3, -1, 0, 2]], np.float32)
    clipped = example("condition/clip.py").clip(traces, 1.5)
    np.testing.assert_array_equal(clipped, [[-1.5, -1, 0, 1.5]])
    assert clipped.dtype == np.float32
    assert traces[0, 0] == -3


def test_the_deliverables_example_writes_findings_and_caution(tmp_path):
    """The note holds the site, each sentence and the whole caution, and nothing unfinished is left beside it."""
    found = types.SimpleNamespace(
        site=types.SimpleNamespace(name="Court"), summary=("A long echo.", "A compact echo.")
    )
    example("deliver/note.py").write_note(tmp_path / "note.txt", found)
    rows = (tmp_path / "note.txt").read_text(encoding="utf-8").splitlines()
    assert rows == ["Court", "A long echo.", "A compact echo.", CAUTION]
    assert [path.name for path in tmp_path.iterdir()] == ["note.txt"]
