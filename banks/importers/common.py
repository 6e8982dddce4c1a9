"""What every importer returns: questions as found, and findings by line. Nothing is written here."""

from msgspec import Struct, field

from domain.questions import Kind


class Finding(Struct, frozen=True):
    """Something the candidate should know about one line (1-based; 0: the file as a whole)."""

    line: int
    reason: str


class DraftOption(Struct, frozen=True):
    """An option as found."""

    text: str
    fixed: bool = False
    explanation: str = ""


class Draft(Struct, kw_only=True):
    """A question as found in a file, before it has a place and an identity in a bank.

    `subject` and `chapter` are titles ("" where the file doesn't say: the import's own defaults
    apply). `number` None: the next free one. `key` holds positions in `options` (0-based) for
    kinds with options that are given, option letters where they are not, else accepted texts or
    the number.
    """

    line: int
    subject: str = ""
    chapter: str = ""
    number: int | None = None
    kind: Kind = Kind.BEST
    stem: str = ""
    options: list[DraftOption] = field(default_factory=list)
    key: list[int | str] = field(default_factory=list)
    tolerance: float = 0.0
    explanation: str = ""
    reference: str = ""
    tags: list[str] = field(default_factory=list)
    figures: list[tuple[str, str, bytes]] = field(default_factory=list)
    """(file name, alternative text, bytes)"""
    credit: dict[int, float] = field(default_factory=dict)
    shuffle: bool = True


class Parsed(Struct, kw_only=True):
    """The whole of a file: what can be imported, what can't and why."""

    format: str
    encoding: str = "utf-8"
    title: str = ""
    drafts: list[Draft] = field(default_factory=list)
    skipped: list[Finding] = field(default_factory=list)
    warnings: list[Finding] = field(default_factory=list)
