"""The memory model: the chance that a question is right on a day, from its history."""
