"""Files to lines: bytes in, checked `Line` records out.

Start with `read_line` (any known format) and `describe` (headers only). Modules, in the order in which bytes
pass them:

- `sniff`: which reader, by content; a new format is one entry there
- `opening`: open a file or say why not
- `segy_layout`, `segy_text`: the SEG-Y standard as tables
- `segy_headers`: what the headers promise, held against the length of the file
- `segy_interval`: which unit the sample interval has
- `segy_samples`: every sample format to float32
- `segy_traces`: trigger numbers, times, delay, co-ordinates
- `segy`: the reader; `segy_info`: the description; `segy_write`: a writer for demos and tests
- `seg2_blocks`, `seg2_samples`, `seg2_strings`: the SEG-2 standard; `seg2`: the reader
- `text_rows`: delimited text to numbers; `npy_bytes`, `netcdf_bytes`: array files to named arrays
- `headings`, `sample_times`, `orient`: what names mean, which unit times have, which axis counts the traces
- `text`, `arrays`: the readers; `matrix`: what they share
- `nmea`, `gpx`, `points`: tracks of fixes and surveyed points; `track`: whichever the file holds; `terrain`:
  rasters of heights; `track_times`, `columns`, `whole`: what they share
- `whole_line`: whether a file that is being written is there as a whole
- `line_info`, `info`: the description record and its table

Importing this package loads NumPy and nothing heavier.
"""

from gridmap.read.arrays import read_arrays
from gridmap.read.info import LineInfo, as_table, describe
from gridmap.read.points import read_points
from gridmap.read.seg2 import read_seg2
from gridmap.read.segy import read_segy
from gridmap.read.segy_write import write_segy
from gridmap.read.sniff import Reader, read_line
from gridmap.read.terrain import read_height_raster
from gridmap.read.text import read_text
from gridmap.read.track import read_track

__all__ = [
    "LineInfo",
    "Reader",
    "as_table",
    "describe",
    "read_arrays",
    "read_height_raster",
    "read_line",
    "read_points",
    "read_seg2",
    "read_segy",
    "read_text",
    "read_track",
    "write_segy",
]
