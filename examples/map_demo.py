"""Map the demo survey by one library call and print what stands out."""

import sys
from pathlib import Path

import gridmap

out = Path(sys.argv[1] if len(sys.argv) > 1 else "demo-out")
result = gridmap.demo(out)
velocity = result.velocity
print(f"velocity {velocity.mean_m_per_ns():.4f} m/ns, 1 sigma {velocity.sd_m_per_ns:.4f}: {velocity.source}")
for sentence in result.summary:
    print("-", sentence)
