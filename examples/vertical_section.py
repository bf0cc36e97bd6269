"""Cut a vertical section out of a finished map with xarray, and print where its strongest echo lies."""

import sys
from pathlib import Path

import xarray

volume = xarray.open_zarr(Path(sys.argv[1] if len(sys.argv) > 1 else "demo-out") / "volume.zarr")
name = next(v for v in volume.data_vars if volume[v].ndim == 3)
section = volume[name].sel(x=6.7, method="nearest").where(volume.z > 0.3).load()
at = section.argmax(...)
print(f"section at x = {float(section.x):.2f} m: {dict(section.sizes)}")
print(f"strongest echo at y = {float(section.y[at['y']]):.2f} m, depth {float(section.z[at['z']]):.2f} m")
