"""Which migration the geometry allows."""

from __future__ import annotations

from typing import Literal


def choose_imaging(
    wanted: Literal["auto", "3d", "2d", "none"], line_spacing_m: float, wavelength_m: float, lines: int
) -> tuple[Literal["3d", "2d", "none"], str]:
    """Choose between 3D and 2D migration, and say why.

    Parameters
    ----------
    wanted : str
        The user's word; anything but "auto" is kept.
    line_spacing_m : float
        Measured, metres; infinite for one line.
    wavelength_m : float
        In the ground at the centre frequency, metres.
    lines : int
        How many lines there are.

    Returns
    -------
    mode : "3d", "2d" or "none"
        3D where lines are closer than three quarters of a wavelength. Unaliased 3D asks for a quarter
        (Grasmueck 2005); up to three quarters the aperture taper keeps the images clean on simulated surveys
        (this project's choice); farther apart the sum across lines blurs more than it gathers.
    reason : str
        Words for the record.
    """
    if wanted != "auto":
        return wanted, "as the site file says"
    ratio = line_spacing_m / wavelength_m
    if lines >= 3 and ratio <= 0.75:
        return "3d", f"lines stand {ratio:.2f} wavelengths apart, close enough to sum across them"
    if lines < 3:
        return "2d", "fewer than three lines"
    return "2d", f"lines stand {ratio:.2f} wavelengths apart, too far to sum across them"


CUBE_BYTES = 500_000_000
"""Largest gridded survey that is migrated by Fourier transform; the transform holds about as much again."""


def choose_sum(
    mode: Literal["3d", "2d", "none"],
    line_spacing_m: float,
    wavelength_m: float,
    layers: int,
    even_ground: bool,
    cube_bytes: int,
) -> tuple[Literal["stolt", "kirchhoff"], str]:
    """Choose how 3D migration is computed, and say why.

    Parameters
    ----------
    mode : "3d", "2d" or "none"
        From `choose_imaging`.
    line_spacing_m, wavelength_m : float
        As there.
    layers : int
        Of the velocity model.
    even_ground : bool
        False where the ground may not be taken as flat.
    cube_bytes : int
        Size of all traces on the cells of the grid, four bytes a sample.

    Returns
    -------
    method : "stolt" or "kirchhoff"
        Stolt's method asks for a regular grid: lines no farther apart than a quarter wavelength can be gridded as
        waves without aliasing (Grasmueck 2005). It asks for one velocity and flat ground too.
    reason : str
        Words for the record.
    """
    if mode != "3d":
        return "kirchhoff", "sums along diffraction curves, line by line"
    if line_spacing_m > 0.25 * wavelength_m * 1.02:
        return (
            "kirchhoff",
            "sums along diffraction curves, since the lines are too far apart to be gridded as waves",
        )
    if layers > 1 or not even_ground:
        return "kirchhoff", "sums along diffraction curves, since the ground is not one flat velocity"
    if cube_bytes > CUBE_BYTES:
        return "kirchhoff", "sums along diffraction curves, since the gridded survey would fill the memory"
    return (
        "stolt",
        "by Fourier transform: a quarter wavelength or less between lines, one velocity, flat ground",
    )
