"""The commands by `python -m sparwright.cli`."""

import sys

from sparwright.cli import main

sys.exit(main())
