"""Everything that touches the disk or a file format; the one door that screens and commands use."""
