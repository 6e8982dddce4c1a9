"""When a fault of the app's own ends it: plain words to the user, the rest into a file."""

import tempfile
import traceback

from domain.text import safe_text

_WORDS = "resieve stopped on an internal error. Everything shown as recorded is saved."


def crash_message(error: BaseException) -> str:
    """What is said of an unforeseen error; its trace is kept in a file that the words name."""
    return f"{_WORDS}\n{trace_words(error)}"


def trace_words(error: BaseException) -> str:
    """Where the trace of an unforeseen error is kept; the error itself where it can't be."""
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", prefix="resieve-fault-", suffix=".txt", delete=False
        ) as file:
            file.writelines(traceback.format_exception(error))
    except OSError:
        return safe_text(f"{type(error).__name__}: {error}")
    return f"Details: {file.name}"
