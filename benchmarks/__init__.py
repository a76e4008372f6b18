"""Side-by-side measurements, one module a stage."""

import platewright  # noqa: F401 - before numpy, which asks once how many threads its linear algebra takes
