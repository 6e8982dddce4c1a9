"""The demo: the invented Skerrin Isles Weather Service, its question book, and one candidate.

The candidate revises the service's printed *Observer's Question Book* and drills the part of it
that is there with its text. All of it is invented; only the questions' facts are not.
"""
