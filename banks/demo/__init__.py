"""The demo: the invented Skerrin Isles Weather Service, its question book, and one candidate.

The candidate revises the service's printed *Observer's Question Book* and drills the part of it
that is there with its text. All of it is invented; only the questions' facts are not.
"""

from banks.demo.making import demo_inputs, full_bank, make_demo, printed_bank
from banks.demo.story import demo_records

__all__ = ["demo_inputs", "demo_records", "full_bank", "make_demo", "printed_bank"]
