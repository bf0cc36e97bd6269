"""Velocity of the ground: published media, hyperbolas in the data, and the choice between them.

Modules: `media`, `surface`, `moveout`, `signal`, `candidates`, `refine`, `oblique`, `hyperbola`, `profile`,
`ties`, `focusing`, `dielectric`, `by_area`, `combine`, `evidence`, `peak_shift`, `top_depth`.
"""
