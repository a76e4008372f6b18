"""``python -m platewright``."""

import sys

from platewright.cli import main

sys.exit(main())
