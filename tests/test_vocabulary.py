"""What the project says and what it calls things: no sentence that was replaced comes back."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
REPLACED = """
so that you get through the whole of it twice
taken back
plans again when days slip
mark questions by key while the book lies open
questions that you keyed in
releases it only on spaced proof
is study material, not advice to act on
is all it needs
an invented history
throwaway store
the shape of the book
one line a chapter
pretends a date
pretended date
was not right; the rest was
the letters you chose are enough
left in the sieve
the most expected marks for the minutes there are
in the minutes there are
will i be through in time
key in, tidy
finds any action by its words
takes the last thing back
take the last thing back
where your data lies
one record a line
only ever added to
what is on the screen as recorded is on the disk
a twin for scripts
drills and sifts
in any format; - is the input
a bank there is, or a new one
where the file names none
what is not in it is withdrawn
key a chapter in
say where you stand
put a copy in the store's place
bring another machine's store
put paper work into the log
a question, until measured
went into
would go into
to look at
find no day before the exam
9 in 10
nine times in ten
later than can be told
the mark to expect
say which bank with
is there already
has it open; leave that one first
which there is not
a fault of its own
what happened stands in
foretold better
one rate for all
enter gives it
with the book open: r
enter takes the next question
nothing left to take in this sitting
go on: {
the day is yours
a day in hand
in hand.
days in hand
dealt out anew
whose block begins in the week of
is only tried out first
the study day turns at
a question counts at most
the most seconds that one question
clean days in hard apart by
a doubt promotes
in another order each time
as the terminal
apart by commas
what should be new
the new title?
there twice
keys are other ones now
answering pays from
can the chances be trusted
 came right
taken for the key, again and again
questions taken for each other
a look at a miss mends it
give the terminal back
seconds a question
minutes a day
one a line
""".strip("\n").splitlines()
"""Sentences that were replaced by better ones, each by the part that gives it away."""


def literals(path: Path) -> list[tuple[int, str]]:
    """Every string that is no docstring, with its line; the parts of an f-string as one."""
    tree = ast.parse(path.read_text("utf-8"))
    silent = {
        id(part)
        for node in ast.walk(tree)
        if (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))
        or isinstance(node, ast.JoinedStr)
        for part in ([node.value] if isinstance(node, ast.Expr) else node.values)
    }  # fmt: skip
    texts = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            parts = [
                str(part.value) if isinstance(part, ast.Constant) else "{}" for part in node.values
            ]
            texts.append((node.lineno, "".join(parts)))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            texts += [(node.lineno, node.value)] if id(node) not in silent else []
    return texts


def replaced_in(text: str) -> list[str]:
    return [sentence for sentence in REPLACED if sentence in text.lower()]


@pytest.mark.parametrize("package", ["tui", "banks", "domain"])
def test_no_string_says_what_was_replaced(package: str) -> None:
    sentences = [
        f"{path.relative_to(ROOT)}:{line}: {sentence!r}"
        for path in sorted((ROOT / package).rglob("*.py"))
        for line, text in literals(path)
        for sentence in replaced_in(text)
    ]
    assert sentences == []


def test_the_readme_says_nothing_that_was_replaced() -> None:
    assert replaced_in((ROOT / "README.md").read_text("utf-8")) == []
