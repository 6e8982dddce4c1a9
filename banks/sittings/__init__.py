"""One sitting of the candidate: drilled on screen, marked on paper, or sat as a mock paper."""
