"""The run record, read back as strict JSON, with hashes from the standard library."""

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from gridmap._version import VERSION
from gridmap.deliver.caution import CAUTION
from gridmap.deliver.record import list_outputs, run_record, write_record
from gridmap.deliver.strict_json import plain
from gridmap.errors import OurFaultError
from gridmap.files import sha256
from gridmap.model import VelocityModel


def strict(path):
    return json.loads(
        path.read_text(encoding="utf-8"), parse_constant=lambda w: pytest.fail(f"{w} is no JSON")
    )


def record_of(tmp_path, **more):
    (tmp_path / "data").mkdir()
    (tmp_path / "site.toml").write_bytes(b"abc")
    (tmp_path / "data" / "L01.sgy").write_bytes(b"")
    velocity = VelocityModel(np.array([0.0, 0.5]), np.array([0.1, 0.08]), 0.004, "focusing scan")
    known = {
        "site": "Meadow",
        "parameters": {"band_mhz": (100.0, 800.0), "blank_m": np.float32(0.3), "factor": float("nan")},
        "inputs": {path: sha256(path) for path in (tmp_path / "site.toml", tmp_path / "data" / "L01.sgy")},
        "velocity": velocity,
        "stage_seconds": {"read": 0.12345, "image": np.float64(2.0)},
        "warnings": ["line L02: walked backward"],
        "base": tmp_path,
    }
    return run_record(**{**known, **more})


def test_inputs_are_hashed_and_named_from_the_site_folder(tmp_path):
    """SHA-256 of "abc" is FIPS 180-4's own example, of nothing the well-known e3b0c442..."""
    inputs = record_of(tmp_path)["inputs"]
    assert inputs == [
        {
            "path": "site.toml",
            "bytes": 3,
            "sha256": "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        },
        {"path": "data/L01.sgy", "bytes": 0, "sha256": hashlib.sha256(b"").hexdigest()},
    ]


def test_velocity_is_the_mean_to_one_metre(tmp_path):
    """0.5 m at 0.10 and 0.5 m at 0.08 m/ns take 5 + 6.25 ns one way: 1 m in 11.25 ns is 0.088889 m/ns."""
    record = record_of(tmp_path)
    assert record["velocity_m_per_ns"] == pytest.approx(1 / 11.25, abs=1e-6)
    assert record["velocity_sd_m_per_ns"] == 0.004
    assert record["velocity_source"] == "focusing scan"
    assert record["velocity_layers"] == [
        {"top_m": 0.0, "velocity_m_per_ns": 0.1},
        {"top_m": 0.5, "velocity_m_per_ns": 0.08},
    ]


def test_the_file_is_strict_json_in_reading_order(tmp_path):
    """NaN becomes null, arrays and tuples lists; program and caution come first, the long lists last."""
    write_record(tmp_path / "run.json", record_of(tmp_path, extra={"control": {"rms_cm": 1.5}}))
    found = strict(tmp_path / "run.json")
    assert list(found)[:4] == ["program", "version", "site", "caution"]
    assert list(found)[-4:] == ["parameters", "inputs", "stages", "outputs"]
    assert (found["version"], found["caution"]) == (VERSION, CAUTION)
    assert found["parameters"] == {"band_mhz": [100.0, 800.0], "blank_m": 0.3, "factor": None}
    assert found["stages"] == [{"name": "read", "seconds": 0.123}, {"name": "image", "seconds": 2.0}]
    assert found["warnings"] == ["line L02: walked backward"]
    assert found["control"] == {"rms_cm": 1.5}
    assert str(tmp_path) not in (tmp_path / "run.json").read_text()


def test_extra_keys_may_not_replace_ours(tmp_path):
    """A summary that would overwrite the velocity is refused."""
    with pytest.raises(ValueError, match="velocity_m_per_ns"):
        record_of(tmp_path, extra={"velocity_m_per_ns": 0.3})


def test_outputs_are_listed_without_unfinished_files(tmp_path):
    """A store is one entry with its count of files; names with a dot and run.json are left out."""
    (tmp_path / "slices").mkdir()
    (tmp_path / "slices" / "b.tif").write_bytes(b"12345")
    (tmp_path / "slices" / ".a.tif").write_bytes(b"1")
    (tmp_path / "volume.zarr" / "amplitude").mkdir(parents=True)
    (tmp_path / "volume.zarr" / "zarr.json").write_bytes(b"{}")
    (tmp_path / "volume.zarr" / "amplitude" / "zarr.json").write_bytes(b"{ }")
    (tmp_path / "run.json").write_bytes(b"{}")
    assert list_outputs(tmp_path) == [
        {"path": "slices/b.tif", "bytes": 5},
        {"path": "volume.zarr", "bytes": 5, "files": 2},
    ]


def test_records_and_numpy_become_plain():
    """Frozen records, scalars of every NumPy kind, paths and sets have one JSON form each."""

    @dataclass(frozen=True)
    class Choice:
        cell_m: float
        file: Path

    value = {
        "choice": Choice(0.05, Path("/base/data/x.sgy")),
        "outside": Path("/elsewhere/y.sgy"),
        "flag": np.bool_(True),
        "count": np.int64(3),
        "rows": np.array([[1.5, np.inf]], dtype=np.float32),
        "scalar": np.array(2.5),
        "set": {"b", "a"},
        1: -0.0,
    }
    assert plain(value, Path("/base")) == {
        "choice": {"cell_m": 0.05, "file": "data/x.sgy"},
        "outside": "y.sgy",
        "flag": True,
        "count": 3,
        "rows": [[1.5, None]],
        "scalar": 2.5,
        "set": ["a", "b"],
        "1": -0.0,
    }
    assert plain(np.float32(0.1)) == 0.1
    with pytest.raises(OurFaultError, match="complex"):
        plain(1j)
