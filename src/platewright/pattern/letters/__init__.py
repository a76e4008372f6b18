"""Text as cut geometry: fonts, outlines of lines and arcs, setting, bridges, and webs the cut leaves."""
