"""The long form: `python -m tests.lived FIRST LAST [days-missed]` lives the candidates' plans."""

import sys
from pathlib import Path
from tempfile import TemporaryDirectory

from tests.lived.candidates import candidate
from tests.lived.living import Life


def main(first: int, last: int, *, diligent: bool) -> int:
    """Print a line per life; the number of rules that were broken."""
    broken = 0
    for seed in range(first, last):
        with TemporaryDirectory() as folder:
            life = Life(candidate(seed, diligent=diligent), Path(folder))
            try:
                violations = life.live().judge()
            finally:
                life.close()
        broken += len(violations)
        questions = len(life.case.bank.questions)
        fits = "fits" if life.first_plan and life.first_plan.feasible else "short"
        print(f"{seed:>5} {questions:>5} questions, {fits}: {len(violations)} broken", flush=True)
        for violation in violations[:3]:
            print(f"      {violation[:160]}")
    return broken


if __name__ == "__main__":
    missed = "days-missed" in sys.argv
    begin, end = (int(word) for word in sys.argv[1:3])
    sys.exit(1 if main(begin, end, diligent=not missed) else 0)
