"""Text on its way to the terminal: nothing in it may drive the terminal, wherever it came from.

What is imported or typed is cleaned before it enters a bank, and so is a bank's file that was
edited by other hands. This is for what files hold before that, and for commands.
"""

import re

_DRIVING = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def harmless(text: str) -> str:
    """The text without controls (but tab and line end), line separators and bidi overrides.

    None of these takes a cell, so a line keeps its width.
    """
    if text.isascii() and text.isprintable():
        return text
    return _DRIVING.sub("", text)
