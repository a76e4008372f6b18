"""From captured points to the fewest lines and arcs, and the relations they keep. Start at ``fit.profile``."""
