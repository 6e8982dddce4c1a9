"""`python -m resieve`, and in a checkout `python -m tui`."""

import sys

from tui.cli import main

sys.exit(main())
