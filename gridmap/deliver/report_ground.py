"""Sections on the ground: slices, velocity, coverage and reach."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely

from gridmap.deliver.report_blocks import Block, Bullets, Figure, Section, Table, Text
from gridmap.deliver.report_figures import reach_maps, slice_sheet, velocity_figure
from gridmap.deliver.report_maps import plan_map
from gridmap.deliver.report_told import Told, number, percent, text

MOST_SLICES = 12


def slices(told: Told) -> Section:
    """One slice with the features over it, and a sheet of them."""
    w, made = told.words, told.made
    windows, quantity = made.slices.windows, text(made.slices.quantity)
    best = telling_slice(told)
    telling = "slices.telling" if told.rows() else "slices.telling_plain"
    sheet, scale = plan_map(made, windows[best].label, "slice", 150, made.slices.values[best])
    blocks: list[Block] = [
        Text(w("slices.about")),
        Figure(
            "slice", w(telling, window=windows[best].label, scale=f"{scale:g}", quantity=quantity),
            w("slices.telling_alt", window=windows[best].label), sheet.svg(),
        ),
    ]  # fmt: skip
    low = reach_share(told, 0.5)
    if np.isfinite(low) and windows[-1].axis == "depth" and windows[-1].base_m > low:
        blocks.append(Text(w("slices.below", depth=number(low, 1))))
    # Fewer slices where that lets each be drawn larger.
    tried = [(spread(len(windows), most), w("slices.heading")) for most in (MOST_SLICES, 9)]
    sheets = [(*slice_sheet(made, picked, title), picked) for picked, title in tried]
    small, scale, chosen = min(sheets, key=lambda made_sheet: made_sheet[1])
    blocks.append(
        Figure(
            "slices", w("slices.sheet", shown=len(chosen), all=len(windows), scale=f"{scale:g}", quantity=quantity),
            w("slices.sheet_alt", top=windows[chosen[0]].label, base=windows[chosen[-1]].label), small.svg(),
        )
    )  # fmt: skip
    return Section("slices", w("slices.heading"), tuple(blocks))


def velocity(told: Told) -> Section:
    """Tell the velocity used, what it rests on and what it means for depths."""
    w, record = told.words, told.made.record
    evidence: dict[str, Any] = record.get("velocity_evidence") or {}
    model = told.made.velocity()
    blocks: list[Block] = [
        Text(
            w("velocity.about",
              words=w("velocity.used", velocity=number(record["velocity_m_per_ns"], 3),
                      sd=number(record["velocity_sd_m_per_ns"], 3), source=text(record["velocity_source"])))
        )
    ]  # fmt: skip
    sentences = tuple(text(s) for s in evidence.get("sentences", []))
    if sentences:
        blocks.append(Bullets(sentences))
    fits = evidence.get("hyperbolas") or []
    if fits:
        speeds = [f["velocity_m_per_ns"] for f in fits]
        drawn = velocity_figure(fits, model, w("velocity.heading"))
        alt = w("velocity.figure_alt", n=len(fits), low=number(min(speeds), 3), high=number(max(speeds), 3),
                velocity=number(record["velocity_m_per_ns"], 3))  # fmt: skip
        blocks.append(Figure("velocity", w("velocity.figure", n=len(fits)), alt, drawn.svg()))
    else:
        blocks.append(Text(w("velocity.media")))
    layers = record["velocity_layers"]
    if len(layers) > 1:
        cells = tuple((number(row["top_m"]), number(row["velocity_m_per_ns"], 4)) for row in layers)
        blocks.append(
            Table(
                "velocity_layers", w("velocity.layers"), tuple(w.items("velocity.layers_head")), cells, "rr"
            )
        )
    if evidence.get("depth_sd"):
        cells = tuple((number(row["depth_m"], 1), number(row["sd_m"])) for row in evidence["depth_sd"])
        blocks.append(
            Table("depth_sd", w("velocity.depth_sd"), tuple(w.items("velocity.depth_sd_head")), cells, "rr")
        )
    if evidence.get("ties"):
        known = tuple(
            (text(t["name"]), number(t["depth_m"]), number(t["time_ns"], 1)) for t in evidence["ties"]
        )
        blocks.append(Table("ties", w("velocity.ties"), tuple(w.items("velocity.ties_head")), known, "lrr"))
    refused = evidence.get("refused") or {}
    if refused:
        counts = sorted(refused.items(), key=lambda item: (-item[1], item[0]))
        blocks.append(Text(w("velocity.refused", words="; ".join(f"{n} {text(why)}" for why, n in counts))))
    return Section("velocity", w("velocity.heading"), tuple(blocks))


def reach(told: Told) -> Section:
    """Where anything was measured and how deep."""
    w, made = told.words, told.made
    line, trace, both = told.spacing()
    wide = line > 0.5 * told.wavelength_m()
    blank = float(told.settings.get("gridding", {}).get("blank_m") or np.nan)
    inside = covered(told, blank)
    lower = made.reach_m[np.isfinite(made.reach_m)]
    blocks: list[Block] = [
        Text(w("reach.about")),
        Text(w("reach.covered", share=percent(inside), blank=number(blank))),
        Text(
            w("reach.apart", line=number(line), trace=number(trace, 3), wavelength=number(told.wavelength_m()),
              words=w("reach.apart_wide" if wide else "reach.apart_close"))
            + " " + w("reach.two_ways" if both else "reach.one_way")
        ),
        Text(w("reach.reached", median=number(reach_share(told, 0.5), 1), low=number(reach_share(told, 0.9), 1)))
        if lower.size else Text(w("reach.no_reach")),
    ]  # fmt: skip
    sheet, scale = reach_maps(made, w("reach.heading"))
    ends = np.percentile(lower, [1, 99]) if lower.size else (np.nan, np.nan)
    far = float(np.nanmax(made.coverage_m)) if np.isfinite(made.coverage_m).any() else np.nan
    alt = w(
        "reach.figure_alt", far=number(far), low=number(float(ends[0]), 1), high=number(float(ends[1]), 1)
    )
    blocks.append(Figure("reach", w("reach.figure", scale=f"{scale:g}"), alt, sheet.svg()))
    return Section("reach", w("reach.heading"), tuple(blocks))


def covered(told: Told, blank_m: float) -> float:
    """Share of the cells within the hull of the lines that lie this near to a trace."""
    raster = told.made.raster
    east = raster.west_m + raster.cell_m * (np.arange(raster.columns) + 0.5)
    north = raster.north_m - raster.cell_m * (np.arange(raster.rows) + 0.5)
    within = shapely.contains_xy(told.hull(), *np.meshgrid(east, north))
    near = told.made.coverage_m <= blank_m if np.isfinite(blank_m) else np.isfinite(told.made.reach_m)
    return float(near[within].mean()) if within.any() else float("nan")


def reach_share(told: Told, share: float) -> float:
    """Depth that this share of the measured area reaches, metres; NaN where reach is not known."""
    known = told.made.reach_m[np.isfinite(told.made.reach_m)]
    return float(np.percentile(known, 100 * (1 - share))) if known.size else float("nan")


def telling_slice(told: Told) -> int:
    """Index of the slice nearest the depths of the features; without any, of the one that stands out most."""
    stack = told.made.slices
    tops = [
        float(r["depth_top_m"])
        for r in told.rows()
        if r.get("depth_top_m") is not None and r["depth_top_m"] == r["depth_top_m"]
    ]
    if tops and stack.windows[0].axis == "depth":
        middle = np.array([0.5 * (win.top_m + win.base_m) for win in stack.windows])
        hits = [sum(win.top_m <= t <= win.base_m for t in tops) for win in stack.windows]
        best = max(hits)
        at = [k for k, n in enumerate(hits) if n == best]
        return int(min(at, key=lambda k: abs(middle[k] - float(np.median(tops)))))
    stands = []
    for values, window in zip(stack.values, stack.windows, strict=True):
        known = values[np.isfinite(values)]
        shallow = window.axis == "depth" and window.top_m < 0.5 * told.wavelength_m()
        stands.append(
            0.0
            if shallow or not known.size
            else float(np.percentile(known, 99) / max(np.median(known), 1e-30))
        )
    return int(np.argmax(stands))


def spread(count: int, most: int) -> list[int]:
    """Choose at most so many places evenly, the first and the last among them."""
    return sorted({int(k) for k in np.round(np.linspace(0, count - 1, min(most, count)))})
