"""One meaning per key: among the screens that judge questions key by key, and among all others.

DEVELOPERS.md holds the table; `python -m tests.tui.test_keys` writes it anew.
"""

import re
from collections import defaultdict
from pathlib import Path

from tui.actions import Action, key_words
from tui.base_app import GLOBAL
from tui.base_screen import AppScreen, OrderedKeysScreen
from tui.keymap import all_screens
from tui.screens.mapping import ColumnMapping, WordMeanings
from tui.widgets.virtual_list import MOVES

JUDGING, OTHERS = "judging", "others"
MEANINGS = {
    JUDGING: {
        "enter": "go on, or save",
        "space": "go on",
        "escape": "leave",
        "q": "leave",
        "z": "end",
        "end": "next open",
        "full_stop": "blank",
        "i": "didn't know",
        "m": "mixed up",
        "r": "misread",
        "s": "slip",
        "y": "the answer key",
        **dict.fromkeys(("up", "down", "left", "right", "pageup", "pagedown"), "move"),
    },
    OTHERS: {
        **dict.fromkeys("0123456789", "list by state; the page or line of that number"),
        "enter": "do it, or open it",
        "ctrl+r": "read or keep what is typed",
        "a": "all that is listed",
        "delete": "nothing, or the default",
        "c": "chapter",
        "d": "drill",
        "e": "edit",
        "m": "minutes",
        "n": "add something new",
        "o": "the other way",
        "q": "back",
        "space": "tick or change it, or a page on",
        "t": "tier",
        "x": "take out",
        "P": "print, or save to a file",
        "z": "end it, or put it off",
        "minus": "less",
        "plus": "more",
        **dict.fromkeys(("up", "down", "left", "right", "h", "j", "k", "l"), "move"),
        **dict.fromkeys(("tab", "shift+tab"), "move"),
    },
}
"""What a key means where its actions have several labels."""
THE_SAME = ("u", "backspace", "slash", "asterisk", "exclamation_mark", "ctrl+e")
"""Keys that mean one thing on every screen where they mean something."""
Uses = dict[str, dict[str, list[str]]]
"""Key → label → the names of the screens that use it."""


def group_of(screen: type[AppScreen]) -> str:
    """Whether questions are judged there key by key."""
    judges = issubclass(screen, OrderedKeysScreen)
    judges = judges and screen not in (ColumnMapping, WordMeanings)
    return JUDGING if judges else OTHERS


def screen_words(screen: type[AppScreen]) -> str:
    """The screen's heading, or its name where another has the same heading."""
    is_unique = sum(other.HEADING == screen.HEADING for other in all_screens()) == 1
    return screen.HEADING if is_unique else screen.NAME.replace("-", " ").capitalize()


def uses(group: str) -> Uses:
    """What each key does where."""
    by_key: Uses = defaultdict(lambda: defaultdict(list))

    def add(action: Action, where: str) -> None:
        for key in action.key.split(","):
            by_key[key][action.label.lower() or "move"].append(where)

    for screen in all_screens():
        if group_of(screen) == group:
            for action in screen.all_actions():
                add(action, screen_words(screen))
    if group == OTHERS:
        for action in MOVES:
            add(action, "lists")
    return by_key


def meaning(group: str, key: str, labels: dict[str, list[str]]) -> str:
    """What the key means in the group, as the table says it."""
    if not labels:
        return ""
    label, *others = labels
    named = MEANINGS[group].get(key, label)
    details = "; ".join(
        f"{each} ({', '.join(dict.fromkeys(where))})" for each, where in labels.items()
    )
    return f"{named}: {details}" if others else f"{label} ({', '.join(labels[label])})"


def table() -> list[str]:
    """The table of DEVELOPERS.md."""
    by_group = {group: uses(group) for group in MEANINGS}
    keys = sorted(
        by_group[JUDGING].keys() | by_group[OTHERS].keys(), key=lambda key: (len(key), key)
    )
    alike: dict[tuple[str, ...], list[str]] = defaultdict(list)
    for key in keys:
        cells = (meaning(group, key, by_group[group].get(key, {})) for group in MEANINGS)
        alike[tuple(cells)].append(f"`{key_words(key)}`")
    rows = ["| key | judging a question | elsewhere |", "|---|---|---|"]
    rows += [
        f"| {' '.join(words)} | {judging} | {others} |"
        for (judging, others), words in alike.items()
    ]
    everywhere = ", ".join(f"`{key_words(action.key)}` {action.label}" for action in GLOBAL)
    return [*rows, "", f"Everywhere: {everywhere}."]


DOCUMENT = Path(__file__).parents[2] / "DEVELOPERS.md"
TABLE = re.compile(r"(?<=<!-- keys -->\n\n).*?(?=\n\n<!-- /keys -->)", re.DOTALL)


def test_a_key_means_one_thing_among_the_screens_of_its_kind():
    several = {
        (group, key): dict(labels)
        for group in MEANINGS
        for key, labels in uses(group).items()
        if len(labels) > 1 and key not in MEANINGS[group]
    }

    assert several == {}


def test_some_keys_mean_one_thing_on_every_screen():
    judging, others = uses(JUDGING), uses(OTHERS)

    for key in THE_SAME:
        assert len(judging[key].keys() | others[key].keys()) <= 1, key


def test_the_table_in_the_document_is_that_of_the_code():
    match = TABLE.search(DOCUMENT.read_text("utf-8"))

    assert match
    assert match.group().splitlines() == table()


if __name__ == "__main__":
    document = DOCUMENT.read_text("utf-8")
    DOCUMENT.write_text(TABLE.sub(lambda _: "\n".join(table()), document), "utf-8")
