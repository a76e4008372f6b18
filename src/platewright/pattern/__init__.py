"""What the shape came in as: photo, scan, traced points, drawing."""
