"""Published question sets: excerpts that lie here, and the whole sets where they are at hand.

Sources and licences: `excerpts/README.md`. The whole sets are no part of the project; whoever
has them puts them into `shared/data` beside the checkout, and every check runs on them too.
"""

from pathlib import Path

import pytest

EXCERPTS = Path(__file__).parent / "excerpts"
WHOLE = Path(__file__).parents[3] / "shared" / "data"


def each(*names: str) -> list[object]:
    """A parameter per file: the excerpt of the set, and the whole set where there is one."""
    return [
        pytest.param(folder / name, id=f"{'excerpt' if folder == EXCERPTS else 'whole'}-{name}")
        for name in names
        for folder in (EXCERPTS, WHOLE)
        if (folder / name).is_file()
    ]
