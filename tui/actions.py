"""One declaration per action: footer, help, palette and key settings all read it."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from textual.binding import Binding

_KEY_WORDS = {
    "question_mark": "?",
    "full_stop": ".",
    "comma": ",",
    "slash": "/",
    "colon": ":",
    "semicolon": ";",
    "minus": "-",
    "plus": "+",
    "equals_sign": "=",
    "space": "space",
    "escape": "esc",
    "enter": "enter",
    "up": "↑",
    "down": "↓",
    "left": "←",
    "right": "→",
    "pageup": "pgup",
    "pagedown": "pgdn",
    "tilde": "~",
    "asterisk": "*",
    "less_than_sign": "<",
    "greater_than_sign": ">",
    "left_square_bracket": "[",
    "right_square_bracket": "]",
    "exclamation_mark": "!",
    "number_sign": "#",
    "backspace": "bksp",
    "delete": "del",
}


@dataclass(frozen=True)
class Action:
    """Something that a key does on a screen.

    `name` is the method `action_<name>` of the screen; `key` one or more keys ("j,down");
    `label` one or two words for the footer; `description` the sentence for help and palette.
    `footer` False keeps it to help and palette; `palette` False suits moves and typed letters.
    """

    name: str
    key: str
    label: str
    description: str
    footer: bool = True
    palette: bool = True

    def binding(self, group: str) -> Binding:
        """The Textual binding, with a lasting id under which the key can be set."""
        return Binding(
            self.key,
            self.name,
            self.label,
            show=self.footer,
            tooltip=self.description,
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


def key_place(
    actions: Iterable[Action], name: str, group: str, pressed: str, keymap: Mapping[str, str]
) -> int:
    """Which of an action's keys, as they are set, was pressed, from 0; -1 for none of them."""
    action = next(action for action in actions if action.name == name)
    keys = keymap.get(action.identity(group), action.key)
    names = [key.strip() for key in keys.split(",")]
    return names.index(pressed) if pressed in names else -1
