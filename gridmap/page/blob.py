"""GeoPackage geometries (OGC 12-128r15, 2.1.3): a header with the box in plan, then ISO WKB."""

from __future__ import annotations

import struct

import shapely

_BOX_BYTES = (0, 32, 48, 48, 64)


def shape_of(blob: bytes) -> shapely.Geometry:
    """Read a geometry; ValueError where the bytes are none."""
    if blob[:2] != b"GP" or len(blob) < 8:
        raise ValueError("no GeoPackage geometry")
    kind = (blob[3] >> 1) & 7
    if kind >= len(_BOX_BYTES):
        raise ValueError("no GeoPackage geometry")
    return shapely.from_wkb(blob[8 + _BOX_BYTES[kind] :])


def blob_of(shape: shapely.Geometry, srs_id: int) -> bytes:
    """Write a geometry, little-endian, with its box in plan."""
    west, south, east, north = shape.bounds
    box = struct.pack("<4d", west, east, south, north)
    wkb: bytes = shapely.to_wkb(shape, byte_order=1, output_dimension=3, flavor="iso")
    return b"GP\x00" + bytes([0b00000011]) + struct.pack("<i", srs_id) + box + wkb


def box_of(blob: bytes | None) -> tuple[float, float, float, float] | None:
    """West, south, east and north of a geometry; None where it is empty."""
    shape = None if blob is None else shape_of(blob)
    if shape is None or shape.is_empty:
        return None
    west, south, east, north = shape.bounds
    return float(west), float(south), float(east), float(north)
