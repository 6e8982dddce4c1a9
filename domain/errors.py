"""Every error that resieve raises on purpose.

ResieveError                exit status 1: a problem with a name
├── InputError              what the candidate gave does not fit (exit status 1)
├── UsageError              a command was put together wrongly (exit status 2)
└── StoreError              the store could not be read or written
    ├── StoreBusy           another resieve holds the store
    ├── StoreReadOnly       this resieve may look but not write
    ├── StoreNewer          the store was written by a newer resieve
    ├── StoreDamaged        a file can't be read; it is named and left untouched
    ├── StoreChanged        a file changed underneath since it was read
    └── StoreLost           the folder or its lock went away while it was open
"""


class ResieveError(Exception):
    """A problem that can be told in one plain sentence."""

    exit_status = 1


class InputError(ResieveError):
    """What the candidate gave does not fit; nothing was changed."""


class UsageError(ResieveError):
    """A command's words don't go together."""

    exit_status = 2


class StoreError(ResieveError):
    """The store could not be read or written."""


class StoreBusy(StoreError):
    """Another resieve holds the store for writing."""


class StoreReadOnly(StoreError):
    """The store is open for looking only."""


class StoreNewer(StoreError):
    """The store's format is newer than this resieve knows."""


class StoreDamaged(StoreError):
    """A file in the store can't be read. It was left as it is."""


class StoreLost(StoreError):
    """The store's folder or its lock went away while it was open; nothing more is saved to it."""


class StoreChanged(StoreError):
    """A file in the store was changed by something else since it was read."""
