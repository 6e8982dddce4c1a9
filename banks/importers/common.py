"""What every importer takes and returns: bytes and hints in, questions as found and findings out.

Each format has a module with `parse(data: bytes, hints: Hints) -> Parsed`. Nothing is written
here. Containers in a `Draft` are tuples: an empty one costs nothing, and a file may hold a
hundred thousand questions.
"""

import re
from collections.abc import Callable, Sequence

from msgspec import Struct

from domain.questions import LETTERS, Kind

EXPECTED = """\
Expected, for example:
number,stem,a,b,c,d,key
1,Which cloud is the highest?,Cumulus,Cirrus,Stratus,Nimbostratus,b
2,"Which of these, if any, is an instrument?",Barometer,Front,Trough,Gale,a
3,Beaufort force 12 is called,gale,storm,hurricane,calm,c"""
"""What a file of questions may look like, in four lines."""

NO_KEY = "no answer key given"
"""What is told of a question that has none."""


class Cancelled(Exception):
    """The candidate stopped the import. Nothing was written."""


class Hints(Struct, frozen=True, kw_only=True):
    """What the candidate said about a file beyond its bytes.

    `name` is the file's name for messages and titles. `columns` maps field names (see
    `columns.py`) to column positions, 0-based; empty: found out from the file. `header` says
    whether the first row names the columns (None: found out). `key_base` is 0 or 1 where a key
    is a number (None: found out over the whole file). `layout` chooses among the ways to read a
    printed text, 0 the likeliest. `encoding`: how the bytes are to be read ("": found out).
    `progress` is called now and then with the
    share done, 0 to 1; it may raise `Cancelled`.
    """

    name: str = ""
    subject: str = ""
    chapter: str = ""
    columns: dict[str, int] = {}
    header: bool | None = None
    key_base: int | None = None
    layout: int = 0
    encoding: str = ""
    progress: Callable[[float], None] | None = None


class Finding(Struct, frozen=True, gc=False):
    """Something the candidate should know about one line (1-based; 0: the file as a whole)."""

    line: int
    reason: str


class DraftOption(Struct, frozen=True, gc=False):
    """An option as found."""

    text: str
    fixed: bool = False
    explanation: str = ""


class Draft(Struct, kw_only=True, gc=False):
    """A question as found in a file, before it has a place and an identity in a bank.

    `subject` and `chapter` are titles ("" where the file doesn't say: the import's own defaults
    apply). `number` None: the next free one. `key` holds positions in `options` (0-based) for
    kinds with options that are given, option letters where they are not, else accepted texts or
    the number. `figures` holds (file name, alternative text, bytes); `credit` maps positions in
    `options` to marks. `code` is the source's own name of a question; `to_check` says why the
    candidate should look at it beside the print, "" where nothing is doubtful.
    """

    line: int
    subject: str = ""
    chapter: str = ""
    number: int | None = None
    code: str = ""
    kind: Kind = Kind.BEST
    stem: str = ""
    options: tuple[DraftOption, ...] = ()
    key: tuple[int | str, ...] = ()
    tolerance: float = 0.0
    explanation: str = ""
    reference: str = ""
    tags: tuple[str, ...] = ()
    figures: tuple[tuple[str, str, bytes], ...] = ()
    credit: tuple[tuple[int, float], ...] = ()
    shuffle: bool = True
    to_check: str = ""


class Parsed(Struct, kw_only=True):
    """The whole of a file: what can be imported, what can't and why.

    For a printed text `layout` says in words how it was understood, `layouts` the ways it could
    be, the likeliest first, and `explained` the share of its lines that belong to something.
    `weights` are shares in the exam by subject title, where the file says them. `encodings`: those
    in which the bytes make sense, where they are several.
    """

    format: str
    encoding: str = "utf-8"
    encodings: tuple[str, ...] = ()
    title: str = ""
    layout: str = ""
    layouts: tuple[str, ...] = ()
    explained: float = 1.0
    weights: dict[str, float] = {}
    drafts: list[Draft] = []
    skipped: list[Finding] = []
    warnings: list[Finding] = []


def unused(what: str, names: Sequence[str]) -> list[Finding]:
    """What to tell of columns or members that nothing was read from."""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    reason = f"{what} that are not used: {', '.join(names[:_MOST_NAMED])}{more}"
    return [Finding(0, reason)] if names else []


_MOST_NAMED = 20
_SMALL = (NO_KEY, "left out as a running head", "no question ")
"""How findings begin that say nothing against the reading."""
_PAGE = re.compile(r"^page \d+: ")
MOST_REFUSED = 0.2
LEAST_EXPLAINED = 0.9
_SAMPLES = 3


def misread(parsed: Parsed) -> str:
    """Why a file was probably not understood, with what was understood; "" if all is well.

    So many findings that they outweigh the questions, a printed text of which less than nine
    tenths is explained, or a table of which a fifth of the rows is refused.
    """
    count, refused = len(parsed.drafts), len(parsed.skipped)
    odd = sum(1 for each in parsed.warnings if not _PAGE.sub("", each.reason).startswith(_SMALL))
    is_printed = parsed.format in ("text", "pdf")
    if refused + odd > max(count, 2):
        reason = f"{refused + odd:,} findings beside {count:,} questions"
    elif is_printed and parsed.explained < LEAST_EXPLAINED:
        reason = f"only {parsed.explained:.0%} of the text is explained"
    elif is_printed or not (reason := refused_rows(count, refused)):
        return ""
    layout = f"; understood: {parsed.layout}" if parsed.layout else ""
    return f"probably misread: {reason}{layout}"


def refused_rows(taken: int, refused: int) -> str:
    """What to say of a table of which a fifth of the rows is refused; "" of any other."""
    is_much = refused > 1 and refused >= MOST_REFUSED * (taken + refused)
    return f"{refused:,} of {taken + refused:,} rows are refused" if is_much else ""


def samples(parsed: Parsed) -> list[str]:
    """Three questions as they were understood, from the beginning, the middle and the end."""
    drafts = parsed.drafts
    places = sorted({0, len(drafts) // 2, len(drafts) - 1}) if drafts else []
    return [_sample(drafts[at]) for at in places[:_SAMPLES]]


def _sample(draft: Draft) -> str:
    options = "  ".join(
        f"{LETTERS[at] if at < len(LETTERS) else at + 1}) {option.text}"
        for at, option in enumerate(draft.options)
    )
    key = ", ".join(LETTERS[at] if isinstance(at, int) else at for at in draft.key) or "none"
    name = draft.code or draft.number or "–"
    return " ".join(f"{name}. {draft.stem}  {options}  (answer key: {key})".split())[:300]
