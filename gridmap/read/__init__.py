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
- `line_info`, `info`: the description record and its table

Importing this package loads NumPy and nothing heavier.
"""

from gridmap.read.info import LineInfo, as_table, describe
from gridmap.read.segy import read_segy
from gridmap.read.segy_write import write_segy
from gridmap.read.sniff import Reader, read_line

__all__ = ["LineInfo", "Reader", "as_table", "describe", "read_line", "read_segy", "write_segy"]
