"""`python -m tui` is `resieve`."""

import sys

from tui.cli import main

sys.exit(main())
