"""Published and listed sizes that parts follow: bolts, bends, welds, tolerances."""
