"""Keeping a store safe: copies, restoring, uniting two machines' stores, and checking."""
