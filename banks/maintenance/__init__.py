"""Looking after a store: copies, restoring, uniting two machines' stores, and checking."""
