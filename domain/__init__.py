"""The rules of the revision, pure: no files, no clock, no randomness of its own, no screen."""
