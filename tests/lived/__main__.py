"""The long forms: `python -m tests.lived FIRST LAST [days-missed] [with-offers]` lives the
candidates' plans, with offers by those who take every pass, paper and final revision,
`python -m tests.lived driller [SEED]` four weeks at the real app by its keys,
`python -m tests.lived --faults` puts faults that plans once had back, one by one.
"""

import asyncio
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from banks.views.today import LineKind
from tests.lived.candidates import candidate
from tests.lived.driller import Driller
from tests.lived.living import Life
from tests.lived.test_harness_notices import FAULTS


def main(first: int, last: int, *, diligent: bool, takes_offers: bool) -> int:
    """Print a line per life; the number of rules that were broken."""
    broken = 0
    for seed in range(first, last):
        with TemporaryDirectory() as folder:
            case = candidate(seed, diligent=diligent, takes_offers=takes_offers)
            life = Life(case, Path(folder))
            try:
                violations = life.live().judge()
            finally:
                life.close()
        broken += len(violations)
        questions = len(life.case.bank.questions)
        fits = "fits" if life.first_plan and life.first_plan.feasible else "short"
        passes = sum(page.kind is LineKind.PASS for page in life.visited.values())
        print(
            f"{seed:>5} {questions:>5} questions, {fits}, {passes} passes, {life.papers} papers, "
            f"asked for final revision {life.asked}: {len(violations)} broken",
            flush=True,
        )
        for violation in violations[:3]:
            print(f"      {violation[:160]}")
    return broken


def drill(seed: int) -> int:
    """Print what four weeks by keys came to; the number of differences from what was pressed."""
    with TemporaryDirectory() as folder:
        driller = asyncio.run(Driller(Path(folder), seed).live())
    print(
        f"{len(driller.record.presses):,} responses, {driller.keys:,} keys, "
        f"{driller.corrected} answered again, {driller.undone} undone, "
        f"{driller.restarts} restarts, {driller.compared:,} figures compared: "
        f"{len(driller.differences)} differences"
    )
    print("\n".join(driller.differences[:20]))
    return len(driller.differences)


def put_faults_back() -> int:
    """Print for each fault what is noticed with it and without it; how many pass unnoticed."""
    unnoticed = 0
    for fault, check in FAULTS:
        with TemporaryDirectory() as with_it, TemporaryDirectory() as without:
            with pytest.MonkeyPatch.context() as monkeypatch:
                fault(monkeypatch)
                noticed = check(Path(with_it))
            unfounded = check(Path(without))
        unnoticed += not noticed or bool(unfounded)
        print(f"{fault.__name__:40} {len(noticed):>4} noticed, {len(unfounded)} without it")
    return unnoticed


if __name__ == "__main__":
    if "--faults" in sys.argv:
        sys.exit(1 if put_faults_back() else 0)
    if sys.argv[1:2] == ["driller"]:
        sys.exit(1 if drill(int(sys.argv[2]) if len(sys.argv) > 2 else 1) else 0)
    missed, takes_offers = "days-missed" in sys.argv, "with-offers" in sys.argv
    begin, end = (int(word) for word in sys.argv[1:3])
    sys.exit(1 if main(begin, end, diligent=not missed, takes_offers=takes_offers) else 0)
