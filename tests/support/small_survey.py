"""A survey small enough to map in two seconds: one pipe across ten lines, written as SEG-Y."""

import numpy as np

from gridmap.read.segy_write import write_segy

CONTROL = """[[control]]
name = "A"
local_m = [0.0, 0.0]
map_m = [500000.0, 5400000.0]
[[control]]
name = "B"
local_m = [2.25, 0.0]
map_m = [500002.25, 5400000.0]
[[control]]
name = "C"
local_m = [2.25, 3.0]
map_m = [500002.25, 5400003.0]
"""

SITE = f"""
[site]
name = "Bleaching green, Unterau"
crs = "EPSG:32633"
size_m = [2.25, 3.0]

{CONTROL}
[antenna]
frequency_mhz = 400
separation_m = 0.0

[ground]
velocity_m_per_ns = 0.1
velocity_sd_m_per_ns = 0.004

[[lines]]
files = "lines/*.sgy"
first_start_m = [0.0, 0.0]
first_end_m = [0.0, 3.0]
step_m = [0.25, 0.0]
zigzag = true
"""
PIPE_Y, PIPE_DEPTH = 1.7, 0.6


def pulse(time_ns, frequency_mhz=400.0):
    a = (np.pi * frequency_mhz * 1e-3 * time_ns) ** 2
    return (1 - 2 * a) * np.exp(-a)


def traces_of(line, count=61, samples=150, interval_ns=0.2, zero_ns=3.0):
    """Direct wave, one pipe along x at PIPE_Y and PIPE_DEPTH, noise; in the order walked."""
    rng = np.random.default_rng(100 + line)
    y = np.linspace(0, 3.0, count)
    y = y[::-1] if line % 2 else y
    time = interval_ns * np.arange(samples) - zero_ns
    echo = 2 * np.hypot(y - PIPE_Y, PIPE_DEPTH) / 0.1
    traces = pulse(time)[None] + 0.05 * pulse(time - echo[:, None])
    return (traces + 0.0005 * rng.normal(size=traces.shape)).astype(np.float32)


def write_small_survey(folder, lines=10, site=SITE):
    """Write line files and site.toml; return the site file's path."""
    (folder / "lines").mkdir(parents=True)
    for i in range(lines):
        write_segy(
            folder / "lines" / f"L{i + 1:02d}.sgy", traces_of(i), sample_interval_ps=200, sample_format=5
        )
    path = folder / "site.toml"
    path.write_text(site, encoding="utf-8")
    return path


def files_of(folder):
    """Bytes of every file of a map but run.json, which holds the times."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != "run.json"
    }
