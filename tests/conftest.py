"""Property tests try the same examples at every run; `RESIEVE_EXPLORE=1` tries new ones.

`RESIEVE_UNSHRUNK=1` ends them with the first example that fails, where only that counts.
"""

import os

from hypothesis import Phase, settings

settings.register_profile("steady", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None, print_blob=True)
settings.register_profile(
    "unshrunk", derandomize=True, deadline=None, phases=(Phase.explicit, Phase.generate)
)
if os.environ.get("RESIEVE_UNSHRUNK"):
    settings.load_profile("unshrunk")
else:
    settings.load_profile("explore" if os.environ.get("RESIEVE_EXPLORE") else "steady")
