"""Platewright: from a template, a worn part or three numbers to a proven cut program."""

import os

__version__ = "0.1.0"

# the systems solved here are small: threads of the linear algebra only wait for one another, at up to four times the time
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
