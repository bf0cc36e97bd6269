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
