"""Rules of the glTF 2.0 specification (Khronos), checked without any glTF library; section numbers [memory]."""

import json
import os
import struct
from pathlib import Path

import numpy as np

TYPES = {5120: np.int8, 5121: np.uint8, 5122: np.int16, 5123: np.uint16, 5125: np.uint32, 5126: np.float32}
SIZES = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT4": 16}


def split_glb(raw):
    """Tree and binary chunk of a file."""
    (length,) = struct.unpack_from("<I", raw, 12)
    return json.loads(raw[20 : 20 + length]), raw[28 + length :]


def join_glb(tree, data):
    """Put a file together again."""
    text = json.dumps(tree).encode()
    text += b" " * (-len(text) % 4)
    body = struct.pack("<II", len(text), 0x4E4F534A) + text + struct.pack("<II", len(data), 0x004E4942) + data
    return struct.pack("<4sII", b"glTF", 2, 12 + len(body)) + body


def rules_broken(raw):
    """Sentences on what breaks the specification; none for a good file."""
    magic, version, length = struct.unpack_from("<4sII", raw)
    if (magic, version, length) != (b"glTF", 2, len(raw)):
        return [f"4.4.2 header says {magic}, {version}, {length} bytes of {len(raw)}"]
    tree, data = split_glb(raw)
    broken = [] if tree["asset"]["version"] == "2.0" else ["3.2 asset.version"]
    if tree["buffers"][0]["byteLength"] > len(data):
        broken.append("3.6.1 buffer longer than its chunk")
    for k, view in enumerate(tree["bufferViews"]):
        if view.get("byteOffset", 0) + view["byteLength"] > tree["buffers"][view["buffer"]]["byteLength"]:
            broken.append(f"3.6.1 view {k} ends beyond its buffer")
    arrays = []
    for k, a in enumerate(tree["accessors"]):
        view, kind = tree["bufferViews"][a["bufferView"]], np.dtype(TYPES[a["componentType"]])
        start = view.get("byteOffset", 0) + a.get("byteOffset", 0)
        if start % kind.itemsize:
            broken.append(f"3.6.2.4 accessor {k} is not aligned")
        count = a["count"] * SIZES[a["type"]]
        if a.get("byteOffset", 0) + count * kind.itemsize > view["byteLength"]:
            broken.append(f"3.6.2 accessor {k} ends beyond its view")
            arrays.append(np.zeros((a["count"], SIZES[a["type"]])))
            continue
        values = np.frombuffer(data, kind, count, start).reshape(-1, SIZES[a["type"]])
        arrays.append(values)
        for name, found in (("min", values.min(0)), ("max", values.max(0))):
            if name in a and not np.array_equal(np.asarray(a[name], kind), found):
                broken.append(f"3.6.2.5 accessor {k}: {name} {a[name]} is not {found.tolist()}")
    for mesh in tree["meshes"]:
        for part in mesh["primitives"]:
            where = part["attributes"]["POSITION"]
            if not {"min", "max"} <= set(tree["accessors"][where]):
                broken.append("3.6.2.5 positions have no bounds")
            if not np.isfinite(arrays[where]).all():
                broken.append("3.6.2 a position is no finite number")
            if "indices" in part and arrays[part["indices"]].max() >= tree["accessors"][where]["count"]:
                broken.append("3.7.2 index out of range")
            counts = {tree["accessors"][i]["count"] for i in part["attributes"].values()}
            if len(counts) > 1 and "range" not in " ".join(broken):
                broken.append("3.7.2 attributes of different counts")
            if part.get("mode", 4) == 4 and "NORMAL" in part["attributes"]:
                lengths = np.linalg.norm(arrays[part["attributes"]["NORMAL"]], axis=1)
                if np.abs(lengths - 1).max() > 0.01:
                    broken.append("3.7.2.1 a normal is not of unit length")
    for node in tree["nodes"]:
        children = [child for child in node.get("children", []) if child >= len(tree["nodes"])]
        broken.extend(f"3.5.3 node {node.get('name')}: no child {child}" for child in children)
    return broken


def node_modules():
    """Folder of the npm package gltf-validator, or None."""
    places = [
        os.environ.get("GRIDMAP_NODE_MODULES"),
        Path(__file__).parents[2] / ".venv" / "node" / "node_modules",
    ]
    return next((Path(p) for p in places if p and (Path(p) / "gltf-validator").is_dir()), None)
