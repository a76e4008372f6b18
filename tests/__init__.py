"""Tests, a folder a package of the source."""

import platewright  # noqa: F401 - before numpy, which asks once how many threads its linear algebra takes
