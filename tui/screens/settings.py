"""Rules, day, looks and keys, each with what it does; rules with what a change would do."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial

from msgspec.structs import replace
from textual.app import ComposeResult
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from banks.settings import Settings
from banks.views.triage import RulesPreview, preview_rules
from domain.errors import InputError, ResieveError
from domain.tiers import HARD_TIERS, TierRules
from tui import keymap, theme
from tui.actions import Action, key_words
from tui.base_screen import AppScreen
from tui.dialogs import ConfirmDialog, PressKey, TextDialog, confirmed, given


@dataclass(frozen=True)
class SettingsField:
    """One setting. `change` gives the settings with the typed value, or raises InputError.

    `choices` are the values to step through with Enter; without them the value is typed. `unit`
    follows a number wherever it is only read, such as "days". `is_detail`: it stands behind
    "more" of its group.
    """

    group: str
    label: str
    words: str
    show: Callable[[Settings], str]
    change: Callable[[Settings, str], Settings]
    choices: tuple[str, ...] = ()
    unit: str = ""
    is_detail: bool = False

    def reading(self, settings: Settings) -> str:
        """The value with its unit: "1 day", "2 days"."""
        value = self.show(settings)
        unit = self.unit.removesuffix("s") if value == "1" else self.unit
        return f"{value} {unit}".strip()

    def next_choice(self, settings: Settings) -> str:
        """The choice after the one in force."""
        return self.choices[(self.choices.index(self.show(settings)) + 1) % len(self.choices)]


YES_NO = ("yes", "no")
STRICTNESS = ("usual", "strict")


def fields() -> list[SettingsField]:
    """All settings, each declared once: the screen is made from these.

    The plan's inputs and the keys have places of their own.
    """
    return [*_tier_rules(), *_day(), *_looks()]


TIER_GROUP = "Tiers"


def _tier_rules() -> Iterator[SettingsField]:
    yield SettingsField(
        TIER_GROUP,
        "Proof",
        "Strict asks for one more clean day before a question settles.",
        lambda settings: STRICTNESS[settings.tier_rules.strict],
        lambda settings, text: _with_rules(settings, strict=text == STRICTNESS[True]),
        STRICTNESS,
    )
    yield SettingsField(
        TIER_GROUP,
        "An unsure response gives a first sign",
        "Right but unsure or guessed leaves a sign on a question that has none.",
        lambda settings: YES_NO[not settings.tier_rules.unsure_signs],
        lambda settings, text: _with_rules(settings, unsure_signs=text == "yes"),
        YES_NO,
    )
    yield SettingsField(
        TIER_GROUP,
        "Waiting after",
        "A question that is not settled waits when it was not tried for so long (45 to 90 days).",
        lambda settings: str(settings.tier_rules.waiting_days),
        lambda settings, text: _with_rules(settings, waiting_days=_whole("days", text)),
        unit="days",
    )
    for place, tier in enumerate(HARD_TIERS):
        yield _tier_number(
            "proof",
            place,
            f"Clean days that settle a {tier.word} question",
            "days",
            "Clean days, far enough apart, that settle it; strict adds one.",
        )
        yield _tier_number(
            "gaps",
            place,
            f"Minimum gap between clean days ({tier.word})",
            "days",
            "A clean day sooner after the last that counted does not count.",
        )


def _tier_number(name: str, place: int, label: str, unit: str, words: str) -> SettingsField:
    def change(settings: Settings, text: str) -> Settings:
        numbers = list(getattr(settings.tier_rules, name))
        numbers[place] = _whole(label, text)
        return _with_rules(settings, **{name: tuple(numbers)})

    def show(settings: Settings) -> str:
        return str(getattr(settings.tier_rules, name)[place])

    return SettingsField(TIER_GROUP, label, words, show, change, unit=unit, is_detail=True)


def _with_rules(settings: Settings, **changes: object) -> Settings:
    rules: TierRules = replace(settings.tier_rules, **changes)
    return replace(settings, tier_rules=rules)


def _day() -> Iterator[SettingsField]:
    yield SettingsField(
        "Day",
        "New study day starts at",
        "Hour (0 to 12); work before it counts for the day before.",
        lambda settings: f"{settings.turn_hour}:00",
        lambda settings, text: replace(
            settings, turn_hour=_whole("the hour", text.removesuffix(":00"))
        ),
    )
    yield SettingsField(
        "Day",
        "Time cap per question",
        "Time cap per question, in seconds (10 to 3600).",
        lambda settings: f"{settings.idle_cap:g}",
        lambda settings, text: replace(settings, idle_cap=float(_whole("seconds", text))),
        unit="seconds",
    )


def _looks() -> Iterator[SettingsField]:
    names = {"": "match the terminal", "lamp": "dark", "daylight": "light"}
    by_word = {word: name for name, word in names.items()}
    yield SettingsField(
        "Looks",
        "Colours",
        "Dark, light, or match the terminal.",
        lambda settings: names.get(settings.looks.theme, "match the terminal"),
        lambda settings, text: _with_looks(settings, theme=by_word[text]),
        tuple(by_word),
    )
    yield SettingsField(
        "Drill",
        "Shuffle options",
        "Shuffle options where their order does not matter.",
        lambda settings: YES_NO[not settings.looks.shuffle_options],
        lambda settings, text: _with_looks(settings, shuffle_options=text == "yes"),
        YES_NO,
    )
    yield SettingsField(
        "Drill",
        "Go on by itself",
        "Show the next question at once after a response that is right and sure.",
        lambda settings: YES_NO[not settings.looks.goes_on],
        lambda settings, text: _with_looks(settings, goes_on=text == "yes"),
        YES_NO,
    )


def _with_looks(settings: Settings, **changes: object) -> Settings:
    return replace(settings, looks=replace(settings.looks, **changes))


def _whole(what: str, text: str) -> int:
    if not text.strip().isdecimal():
        raise InputError(f"{what}: expected a whole number, not {text!r}; nothing was changed")
    return int(text)


_LABEL, _VALUE = 58, 22
"""Cells of a label at most, and of what stands beside it."""
_MORE, _MORE_ID = "The numbers behind the proof", "more"
_MORE_WORDS = "How many clean days settle a question in each tier, and how far apart they must lie."


class SettingsScreen(AppScreen):
    """The settings as a list; Enter changes the selected one."""

    NAME = "settings"
    HEADING = "Settings"
    ABOUT = (
        "Enter changes the selected setting. A change to the tier rules first shows its effect "
        "on the counts; your history never changes."
    )
    ACTIONS = (
        Action("change", "enter", "Change", "Change the selected setting."),
        Action("default", "delete", "Default key", "Reset the selected shortcut to its default."),
        Action("move(1)", "j", "", "Go down.", footer=False, palette=False),
        Action("move(-1)", "k", "", "Go up.", footer=False, palette=False),
    )
    CSS = """
    #settings, #settings:focus {
        height: 1fr; border: none; padding: 0; background: $background; background-tint: 0%;
    }
    #settings > .option-list--option-highlighted {
        background: $panel; color: $foreground; text-style: bold;
    }
    #settings:focus > .option-list--option-highlighted { background: $selected; }
    #settings:nocolor > .option-list--option-highlighted { text-style: bold underline; }
    #words { height: 2; padding: 0 2; color: $text-muted; }
    """

    _shows_details = False

    def body(self) -> ComposeResult:
        """The list, and what the selected line means."""
        yield OptionList(id="settings", markup=False)
        yield Static("", id="words", markup=False)

    def on_resize(self) -> None:
        """Lines fit the new width."""
        self.app.when_ready(self.ready)

    def ready(self) -> None:
        """List everything."""
        self.set_title("Settings", "saved with your store")
        self._fields = fields()
        self._keys = list(keymap.rows())
        self._list = self.query_one(OptionList)
        self._list.focus()
        self._fill()

    def _fill(self) -> None:
        """The lines anew; the selected one stays."""
        self._marked: int | None = None
        chosen = self._list.highlighted
        self._list.clear_options()
        self._list.add_options(self._options())
        self._list.highlighted = chosen if chosen is not None else 1

    def _options(self) -> Iterable[Option]:
        group, settings, width = "", self._settings, self.app.size.width
        is_behind = False
        for place, field in enumerate(self._fields):
            if field.group != group:
                group, is_behind = field.group, False
                yield _heading(group)
            if field.is_detail and not is_behind:
                is_behind = True
                yield Option(
                    _line(_MORE, "less" if self._shows_details else "more", width), id=_MORE_ID
                )
            if field.is_detail and not self._shows_details:
                continue
            yield Option(_line(field.label, field.reading(settings), width), id=f"f{place}")
        for place, row in enumerate(self._keys):
            if f"Keys: {row.group}" != group:
                group = f"Keys: {row.group}"
                yield _heading(group)
            yield Option(
                _line(row.action.description, key_words(self._key(row)), width), id=f"k{place}"
            )

    def _key(self, row: keymap.KeyRow) -> str:
        return self.app.set_keys.get(row.identity, row.action.key)

    def on_option_list_option_highlighted(self, event: OptionList.OptionHighlighted) -> None:
        """Mark the selected line, and say what it means."""
        self._mark(event.option_index)
        name = event.option.id or ""
        words = self._fields[int(name[1:])].words if name.startswith("f") else ""
        words = _MORE_WORDS if name == _MORE_ID else words
        self.query_one("#words", Static).update(words)

    def _mark(self, place: int) -> None:
        """Move the `>`, so that the selected line is not told by colour alone."""
        for line, mark in ((self._marked, "  "), (place, "> ")):
            if line is not None and line < self._list.option_count:
                words = self._list.get_option_at_index(line).prompt
                assert isinstance(words, Content)  # as `_line` made it
                self._list.replace_option_prompt_at_index(line, Content(mark) + words[2:])
        self._marked = place

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Enter or a click on a line."""
        name = event.option.id or ""
        if name == _MORE_ID:
            self._shows_details = not self._shows_details
            self._fill()
            return
        place = int(name[1:])
        if name.startswith("f"):
            self._change_field(self._fields[place])
        else:
            self._change_key(self._keys[place])

    def action_change(self) -> None:
        """Change the selected line."""
        self._list.action_select()

    def action_move(self, step: int) -> None:
        """Go a line up or down."""
        if step > 0:
            self._list.action_cursor_down()
        else:
            self._list.action_cursor_up()

    # a setting

    @property
    def _settings(self) -> Settings:
        return self.library.settings

    def _change_field(self, field: SettingsField) -> None:
        if field.choices:
            self._try(field, field.next_choice(self._settings))
            return
        ask = TextDialog(
            field.words,
            field.show(self._settings),
            check=lambda text: self._changed(field, text),
        )
        self.app.push_screen(ask, given(partial(self._try, field)))

    def _changed(self, field: SettingsField, text: str) -> Settings:
        """The settings as they would be. Raises InputError for what can't be."""
        changed = field.change(self._settings, text)
        if problems := changed.problems():
            raise InputError("; ".join(problems))
        return changed

    def _try(self, field: SettingsField, text: str) -> None:
        changed = self._changed(field, text)
        if changed.tier_rules != self._settings.tier_rules:
            self.in_background(lambda: self._weigh(changed), loads=True)
        else:
            self._save(changed)

    def _weigh(self, changed: Settings) -> None:
        effect = preview_rules(self.library, changed.tier_rules)
        self.hand_over(self._confirm, changed, effect)

    def _confirm(self, changed: Settings, effect: RulesPreview) -> None:
        question = ConfirmDialog(_effect_words(effect), "Use these rules", "Keep the old ones")
        self.app.push_screen(question, confirmed(partial(self._save, changed)))

    def _save(self, changed: Settings) -> None:
        try:
            self.library.save_settings(changed)
        except ResieveError as problem:
            self.tell(problem)
            return
        theme.apply(self.app, changed.looks.theme)
        self.app.set_keymap(changed.keys)
        self.ready()

    # a key

    def _change_key(self, row: keymap.KeyRow) -> None:
        self.app.push_screen(PressKey(row.action.description), given(partial(self._set_key, row)))

    def _set_key(self, row: keymap.KeyRow, key: str) -> None:
        if problem := keymap.clash(row, key, self.app.set_keys):
            self.tell(problem)
            return
        self._save(replace(self._settings, keys={**self.app.set_keys, row.identity: key}))

    def action_default(self) -> None:
        """The selected action's first key again."""
        chosen = self._list.highlighted_option
        name = chosen.id or "" if chosen else ""
        if not name.startswith("k"):
            self.tell("Select a shortcut first.")
            return
        identity = self._keys[int(name[1:])].identity
        keys = {name: key for name, key in self.app.set_keys.items() if name != identity}
        self._save(replace(self._settings, keys=keys))


def _heading(text: str) -> Option:
    return Option(Content.styled(f" {text}", "bold $accent"), disabled=True)


def _line(label: str, value: str, width: int) -> Content:
    space = max(20, min(_LABEL, width - _VALUE))
    shown = Content(label).truncate(space, ellipsis=True, pad=True)
    return Content.assemble("  ", shown, " ", (value, "bold"))


def _effect_words(effect: RulesPreview) -> str:
    lines = ["Under these rules:", ""]
    for tier in ("untried", "clear", "hard", "harder", "hardest", "settled", "waiting"):
        now, then = getattr(effect.now, tier), getattr(effect.then, tier)
        change = f"{then - now:+,}".replace("-", "−") if then != now else "the same"
        lines.append(f"{tier:<8} {now:>8,} → {then:>8,}   {change}")
    return "\n".join(lines)
