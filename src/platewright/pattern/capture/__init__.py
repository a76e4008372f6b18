"""From phone photos and scans to a measured outline: cards, camera, region, edge, and how true it is."""
