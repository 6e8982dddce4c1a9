"""How long an import takes and how much it holds, beside what the standard library needs."""

import csv
import io
import json
import random
import tracemalloc
from time import perf_counter

from banks.find_duplicates import find_duplicates
from banks.importers import detect
from banks.importers.common import Hints
from banks.intake.reconcile import reconcile
from domain.questions import Bank

Row = tuple[str, float, str, float | None]
"""Name, measured, unit, goal (None where there is none)."""

_TEXT = """
observer cloud wind height pressure of the which is most likely front temperature dew point station
reading signal code scale genus species halo squall gale trough ridge
"""
_WORDS = _TEXT.split()
_HEADERS = ["subject", "chapter", "number", "stem", "a", "b", "c", "d", "key", "explanation"]
EMPTY = Bank(id="bench", title="Bench")


def rows() -> list[Row]:
    """The import's figures."""
    lines, table, printed = _json_lines(4_183), _table(100_000), _printed(600)
    hundred = len(table) / 2**20
    standard = _seconds(lambda: _by_the_library(table))
    taken = _seconds(lambda: detect.parse(table, Hints()))
    bank = reconcile(EMPTY, detect.parse(_table(11_000), Hints())).bank
    large = reconcile(EMPTY, detect.parse(_table(110_000), Hints())).bank
    return [
        ("import 4,183 JSON Lines, read and reconciled", _seconds(lambda: _bring(lines)), "s", 3),
        ("import 600 printed questions as text", _seconds(lambda: _bring(printed)), "s", 0.5),
        (f"read 100,000 rows of CSV ({hundred:.0f} MB)", taken, "s", None),
        ("the same beside csv + json of the library", taken / standard, "×", 4),
        ("the same, memory beside the file", _peak(table), "×", 4),
        ("the same, reconciled with an empty bank", _seconds(lambda: _bring(table)), "s", None),
        ("duplicates among 11,000 questions", _seconds(lambda: find_duplicates(bank)), "s", 5),
        ("duplicates among 110,000 questions", _seconds(lambda: find_duplicates(large)), "s", 60),
    ]


def _bring(data: bytes) -> None:
    reconcile(EMPTY, detect.parse(data, Hints()))


def _by_the_library(data: bytes) -> object:
    """Read as dictionaries, written and read as JSON."""
    rows = list(csv.DictReader(io.StringIO(data.decode(), newline="")))
    return json.loads(json.dumps(rows))


def _questions(count: int) -> list[list[str]]:
    chance = random.Random(1)

    def words(least: int, most: int) -> str:
        return " ".join(chance.choice(_WORDS) for _ in range(chance.randint(least, most)))

    return [
        [
            f"Subject {at // 5_000}", f"Chapter {at // 60}", str(at % 60 + 1),
            f"{words(12, 30)}, at {at} µm?", words(2, 6), words(2, 6), words(2, 6), words(2, 6),
            "ABCD"[at % 4], words(20, 90),
        ]
        for at in range(count)
    ]  # fmt: skip


def _table(count: int) -> bytes:
    stream = io.StringIO()
    writer = csv.writer(stream)
    writer.writerow(_HEADERS)
    writer.writerows(_questions(count))
    return stream.getvalue().encode()


def _json_lines(count: int) -> bytes:
    items = (dict(zip(_HEADERS, row, strict=True)) for row in _questions(count))
    return "\n".join(json.dumps(item) for item in items).encode()


def _printed(count: int) -> bytes:
    blocks = (
        f"{at}. {stem}\n(a) {a}\n(b) {b}\n(c) {c}\n(d) {d}\nAns. ({key.lower()})\n"
        f"Explanation: {note}.\n"
        for at, (_, _, _, stem, a, b, c, d, key, note) in enumerate(_questions(count), 1)
    )
    return "\n".join(blocks).encode()


def _seconds(run: object, times: int = 3) -> float:
    taken = []
    for _ in range(times):
        begin = perf_counter()
        run()
        taken.append(perf_counter() - begin)
    return min(taken)


def _peak(data: bytes) -> float:
    """The most memory held while reading, the file's bytes among it, as a multiple of the file."""
    tracemalloc.start()
    detect.parse(data, Hints())
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / len(data) + 1
