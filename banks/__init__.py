"""What touches the disk or a file format, and the views that screens and commands show."""
