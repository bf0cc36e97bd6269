"""A swath in one file and the same swath in a file a channel are the same lines."""

import numpy as np

from gridmap.pipeline.read_planned import read_planned
from gridmap.read.segy_write import write_segy
from gridmap.site.load import load_site

SITE = """
[site]
name = "array"
[antenna]
frequency_mhz = 400
separation_m = 0.14
[record]
sample_interval_ns = 0.1
[[swaths]]
files = "{files}"
channels = 3
channel_spacing_m = 0.1
first_start_m = [1.0, 0.0]
first_end_m = [1.0, 2.0]
{more}
"""


def test_one_file_or_three_are_the_same_lines(tmp_path):
    """Samples, trigger counts and times of each channel, through the reader of SEG-Y."""
    rng = np.random.default_rng(1)
    swath = rng.normal(size=(20, 3, 16)).astype(np.float32)
    time_s = 1.7e9 + 0.25 * np.arange(20)
    for c in range(3):
        path = tmp_path / f"S001_C{c + 1:02d}.sgy"
        write_segy(path, swath[:, c], sample_interval_ps=100, time_s=time_s)
    write_segy(
        tmp_path / "turn_S001.sgy", swath.reshape(60, 16), sample_interval_ps=100, time_s=np.repeat(time_s, 3)
    )
    sites = []
    for name, files, more in (("a", "S*_C*.sgy", ""), ("b", "turn_S*.sgy", 'channels_in = "turn"')):
        path = tmp_path / f"{name}.toml"
        path.write_text(SITE.format(files=files, more=more))
        sites.append(load_site(path))
    for one, other in zip(sites[0].lines, sites[1].lines, strict=True):
        assert (one.start_m, one.end_m) == (other.start_m, other.end_m)
        a, b = read_planned(sites[0], one), read_planned(sites[1], other)
        assert np.array_equal(a.traces, b.traces)
        assert np.array_equal(a.trace_number, b.trace_number)
        assert np.array_equal(a.time_s, b.time_s)
