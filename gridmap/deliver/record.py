"""run.json: what was done, with what, for how long, and what came out."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from gridmap._version import VERSION
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.strict_json import plain, relative, to_text
from gridmap.files import write_text
from gridmap.model import VelocityModel


def run_record(
    *,
    site: str,
    parameters: Mapping[str, Any],
    inputs: Mapping[Path, str],
    velocity: VelocityModel,
    stage_seconds: Mapping[str, float],
    warnings: Iterable[str] = (),
    outputs: Iterable[Mapping[str, Any]] = (),
    base: Path | None = None,
    extra: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Gather the record of one run; writes nothing.

    Parameters
    ----------
    site : str
        Name of the site.
    parameters : mapping
        Every parameter as used, by room or by name; records and arrays are welcome.
    inputs : mapping
        Every file that was read, and the SHA-256 of what was read.
    velocity : VelocityModel
        The velocity that turned time into depth.
    stage_seconds : mapping
        Wall time of each stage in seconds, in the order run.
    warnings : iterable of str
        What a person should look at.
    outputs : iterable of mapping
        What is in the folder; see `list_outputs`.
    base : Path or None
        The site file's folder; paths are written relative to it.
    extra : mapping or None
        Further top-level keys, such as a summary or control residuals. They may not replace a key of ours.

    Returns
    -------
    dict
        Ready for `write_record`: plain types only, keys in reading order, no NaN.

    Raises
    ------
    ValueError
        If `extra` repeats a key of the record.
    OSError
        If an input can no longer be read.
    """
    record: dict[str, Any] = {
        "program": "gridmap",
        "version": VERSION,
        "site": site,
        "caution": CAUTION,
        "velocity_m_per_ns": round(velocity.mean_m_per_ns(), 6),
        "velocity_sd_m_per_ns": round(velocity.sd_m_per_ns, 6),
        "velocity_source": velocity.source,
        "velocity_layers": [
            {"top_m": float(top), "velocity_m_per_ns": round(float(value), 6)}
            for top, value in zip(velocity.top_m, velocity.velocity_m_per_ns, strict=True)
        ],
        "warnings": list(warnings),
    }
    last = {
        "parameters": parameters,
        "inputs": [
            {"path": relative(path, base), "bytes": path.stat().st_size, "sha256": sha}
            for path, sha in inputs.items()
        ],
        "stages": [{"name": name, "seconds": round(float(s), 3)} for name, s in stage_seconds.items()],
        "outputs": list(outputs),
    }
    repeated = (record.keys() | last.keys()) & (extra or {}).keys()
    if repeated:
        raise ValueError(f"run record: {', '.join(sorted(repeated))} is written by the record itself")
    result: dict[str, Any] = plain({**record, **(extra or {}), **last}, base)
    return result


def list_outputs(folder: Path) -> list[dict[str, Any]]:
    """List what stands in an output folder, sorted by path; a Zarr store counts as one entry.

    Parameters
    ----------
    folder : Path
        The output folder. run.json itself and names that start with a dot (unfinished files) are left out.

    Returns
    -------
    list of dict
        `path` relative to the folder, `bytes`, and for a store also `files`.
    """
    found: list[dict[str, Any]] = []
    for path in sorted(folder.iterdir(), key=lambda item: item.name):
        found += _entries(path, path.name)
    return [entry for entry in found if entry["path"] != "run.json"]


def _entries(path: Path, name: str) -> list[dict[str, Any]]:
    if path.name.startswith("."):
        return []
    if path.is_file():
        return [{"path": name, "bytes": path.stat().st_size}]
    if path.suffix == ".zarr":
        sizes = [item.stat().st_size for item in path.rglob("*") if item.is_file()]
        return [{"path": name, "bytes": sum(sizes), "files": len(sizes)}]
    below = sorted(path.iterdir(), key=lambda item: item.name)
    return [entry for item in below for entry in _entries(item, f"{name}/{item.name}")]


def write_record(path: Path, record: Mapping[str, Any]) -> None:
    """Write a run record as strict JSON (RFC 8259: no NaN), whole or not at all."""
    write_text(path, to_text(record))
