"""The long form: `python -m tests.printed [TEXT PAGES] [PDF PAGES] [FIRST SEED]`."""

import sys
from collections import defaultdict

from tests.printed.scoring import Score
from tests.printed.trial import KINDS, trial

FIRST = 10_000


def main(text_pages: int, pdf_pages: int, first: int) -> int:
    """Read so many pages of each kind and print what came of them, by dimension."""
    wrong = 0
    for kind in KINDS:
        pages = pdf_pages // 2 if kind.startswith("pdf") else text_pages
        by_choice: dict[tuple[str, str], Score] = defaultdict(Score)
        total = Score()
        for seed in range(first, first + pages):
            choices, score = trial(kind, seed)
            total.add(score)
            for choice in choices.items():
                by_choice[choice].add(score)
            for each in score.wrong:
                print(f"  {kind}, seed {seed}: {each}"[:160])
        _tell(kind, pages, total, by_choice)
        wrong += len(total.wrong)
    return 1 if wrong else 0


def _tell(kind: str, pages: int, total: Score, by_choice: dict[tuple[str, str], Score]) -> None:
    print(f"{kind}: {pages:,} pages, {total.questions:,} questions")
    for (dimension, choice), score in [(("all", ""), total), *sorted(by_choice.items())]:
        share = score.complete / max(score.questions, 1)
        print(
            f"  {dimension:13}{choice:25}{score.questions:8,}{share:8.1%} complete"
            f"{score.told:7,} told{score.plausible:5} plausible{len(score.wrong):5} wrong"
        )


if __name__ == "__main__":
    given = [int(each) for each in sys.argv[1:]]
    sys.exit(main(*[*given, *(5_000, 500, FIRST)[len(given) :]]))
