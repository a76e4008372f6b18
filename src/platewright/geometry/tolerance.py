"""Named tolerances, each with its unit and reason. Nothing in geometry hides a number of its own."""

CHORD = 0.005
"""Default chord error when arcs are flattened [mm]: a tenth of what a small plasma table repeats to."""

WELD = 1e-6
"""Two points closer than this are one point [mm]: far below any machine, far above float noise at 10 m."""

TOPOLOGY = 1e-4
"""Chord error of the polygons that decide topology only [mm]; results are put back on true arcs."""

SNAP = 1e-7
"""Slack when a computed vertex is compared with an exact one [mm]."""

TOUCH = 1e-8
"""Curves that come this near without crossing touch at one point [mm]: above float noise, below WELD."""

FLAT = 1e-7
"""An arc that bows less than this part of its chord [-] is worked on as a line: 0.1 micrometre in a metre."""

SMOOTH = 1e-9
"""Neighbours whose moved ends can be made to meet by leaving their own curves this little are tangent [mm]."""
