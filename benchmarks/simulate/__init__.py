"""A forward model of ground-penetrating radar lines, independent of gridmap's imaging.

Rays in flat layers carry a pulse from a transmitter to scatterers and back to a receiver; then the faults of
field work are laid on. Nothing of gridmap is imported here but the SEG-Y writer (in `survey_files`), so that
a map made by gridmap can be judged against ground that was laid by other formulas.

Modules, in the order in which data passes them::

    ground        flat layers, exact rays through them, tables of time and absorption
    objects       pipes, boxes, footings, interfaces, stones, posts: what lies in the ground
    echoes        compiled sums of echoes over the objects
    array_echoes  the same in ground of one velocity, for millions of traces
    pulse         the antenna's pulse; spikes to traces
    walk          where each trace really was taken
    faults        time zero, gain, wow, ringing, noise, bumps, dead traces
    survey_files  SEG-Y lines, and local grid to map

Frame: local grid x, y in metres, z depth positive down; ns; GHz inside the formulas, MHz in names that say
so. Sign: an echo of reflection coefficient +1 has the sign of the direct wave. Metal is -1, a void is
positive.
"""
