"""One file a group of commands; each is the scriptable twin of a screen."""
