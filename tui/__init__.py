"""The terminal: screens, widgets, keys, looks, and the command line that starts them."""
