"""A module per group of commands; each does what a screen does, for scripts."""
