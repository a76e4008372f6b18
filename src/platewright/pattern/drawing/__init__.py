"""From DXF and SVG drawings to profiles with holes, marks and findings."""
