"""Property tests try the same examples at every run; `RESIEVE_EXPLORE=1` tries new ones."""

import os

from hypothesis import settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None, print_blob=True)
settings.load_profile("explore" if os.environ.get("RESIEVE_EXPLORE") else "steady")
