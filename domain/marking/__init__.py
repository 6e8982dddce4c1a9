"""Marks: schemes, correction for guessing, multiple response, mock papers and their results."""
