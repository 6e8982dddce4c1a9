"""Banks changed by hand: headings, edits that can be taken back, questions that are there twice."""
