"""Where the store lies."""

import os
from collections.abc import Mapping
from pathlib import Path


def default_folder(environ: Mapping[str, str] = os.environ) -> Path:
    """`RESIEVE_STORE`, else the platform's folder for user data."""
    named = environ.get("RESIEVE_STORE")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("resieve", appauthor=False)
