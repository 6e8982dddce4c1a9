"""One declaration per action: footer, help, palette and key settings all read it."""

import re
from dataclasses import dataclass

from textual.binding import Binding

_KEY_WORDS = {
    "question_mark": "?", "full_stop": ".", "comma": ",", "slash": "/", "colon": ":",
    "semicolon": ";", "minus": "-", "plus": "+", "equals_sign": "=", "space": "space",
    "escape": "esc", "enter": "enter", "up": "↑", "down": "↓", "left": "←", "right": "→",
    "pageup": "pgup", "pagedown": "pgdn", "tilde": "~", "asterisk": "*", "less_than_sign": "<",
    "greater_than_sign": ">", "left_square_bracket": "[", "right_square_bracket": "]",
    "exclamation_mark": "!", "backspace": "bksp", "delete": "del",
}  # fmt: skip


@dataclass(frozen=True)
class Action:
    """Something that a key does on a screen.

    `name` is the method `action_<name>` of the screen; `key` one or more keys ("j,down");
    `label` one or two words for the footer; `words` the sentence for help and palette. `footer`
    False keeps it to help and palette; `palette` False suits moves and typed letters.
    """

    name: str
    key: str
    label: str
    words: str
    footer: bool = True
    palette: bool = True

    def binding(self, group: str) -> Binding:
        """The Textual binding, with a lasting id under which the key can be set."""
        return Binding(
            self.key,
            self.name,
            self.label,
            show=self.footer,
            tooltip=self.words,
            id=self.identity(group),
        )

    def identity(self, group: str) -> str:
        """The name under which settings map another key, as everywhere.visit-plan."""
        return f"{group}." + "-".join(re.findall(r"-?\w+", self.name))


def is_typed(word: str) -> bool:
    """Whether a key, as a reader writes it, is one that a line of text takes for itself."""
    return word in ("space", "bksp", "del") or (len(word) == 1 and word not in "↑↓")


def key_words(keys: str, *, only_first: bool = False) -> str:
    """Keys as a reader writes them: "question_mark,f1" → "? f1"."""
    names = keys.split(",")[:1] if only_first else keys.split(",")
    return " ".join(_KEY_WORDS.get(name.strip(), name.strip()) for name in names)
