"""What the invented candidate said about single questions: notes, a dispute, tiers set by hand."""

from banks.demo.diary import Diary
from domain.questions import Bank, Question
from domain.responses import Dispute, HandTier, Note, Response, Withdrawal
from domain.tiers import Tier

_NOTES = (
    ("three fingers cover about 5°", "Little finger 1°, three fingers 5°: try it at the window."),
    ("The receiver gives -.--", "Q begins with two dashes, Y ends with two."),
    ("The sea heaps up", "Streaks: begin at 7, well marked at 8, dense at 9."),
)
_DISPUTED = ("one scrap of cumulus", "0", "Rounded to eighths it is 0. Ask at the office.")
_HARDEST = ("the register for stratocumulus", "I keep writing St for it on the night shift")
_CLEAR = "struck out in the errata slip"


def add_remarks(diary: Diary, full: Bank, printed: Bank) -> None:
    """Add the remarks at the diary's last moment, and take the last response back."""
    for words, text in _NOTES:
        diary.say(Note, question=_find(full, words).id, text=text)
    words, believed, note = _DISPUTED
    question = _find(full, words)
    key = tuple(option.id for option in question.options if option.text == believed)
    diary.say(Dispute, question=question.id, key=key, note=note)
    words, reason = _HARDEST
    diary.say(HandTier, question=_find(full, words).id, tier=Tier.HARDEST, reason=reason)
    struck_out = printed.in_chapter(printed.subjects[0].chapters[0].id)[-1]
    diary.say(HandTier, question=struck_out.id, tier=Tier.CLEAR, reason=_CLEAR)
    last = next(one for one in reversed(diary.records) if isinstance(one, Response))
    diary.say(Withdrawal, targets=(last.id,))


def _find(bank: Bank, words: str) -> Question:
    return next(question for question in bank.questions.values() if words in question.stem)
