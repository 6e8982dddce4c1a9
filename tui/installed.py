"""The package `resieve` as it is installed; pyproject.toml copies this file to its `__init__`.

A wheel holds `domain`, `banks`, `tui` and `sample_banks` inside `resieve/`, so that no other
top-level name lands in site-packages; an editable install has the checkout on the path already.
"""

import sys
from pathlib import Path

_FOLDER = Path(__file__).parent
if (_FOLDER / "domain").is_dir():
    sys.path.insert(0, str(_FOLDER))

from tui.cli import main  # noqa: E402

__all__ = ["main"]
