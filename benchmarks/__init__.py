"""Side-by-side measurements, one module a stage."""
