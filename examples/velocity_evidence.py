"""Read from run.json what the velocity rests on: how many hyperbolas, on which lines, and what was refused."""

import json
import sys
from collections import Counter
from pathlib import Path

record = json.loads((Path(sys.argv[1] if len(sys.argv) > 1 else "demo-out") / "run.json").read_text())
evidence = record["velocity_evidence"]
print(
    f"{record['velocity_m_per_ns']} m/ns, 1 sigma {record['velocity_sd_m_per_ns']}: {record['velocity_source']}"
)
for sentence in evidence["sentences"]:
    print("-", sentence)
lines = Counter(h["line"] for h in evidence["hyperbolas"])
print("most hyperbolas on", ", ".join(f"{line} ({count})" for line, count in lines.most_common(3)))
print("refused:", ", ".join(f"{reason} ({count})" for reason, count in evidence["refused"].items()))
