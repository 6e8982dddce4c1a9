"""Numbers with their nouns."""


def counted(count: int, noun: str) -> str:
    """ "1 question", "1,204 questions"."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"
