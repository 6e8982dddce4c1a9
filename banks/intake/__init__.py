"""What comes in: a file is looked at, brought together with the bank, and only then written."""
