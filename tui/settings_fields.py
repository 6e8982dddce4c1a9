"""The settings as a list: each declared once, from which the settings screen is made."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from msgspec.structs import replace

from banks.settings import Settings
from domain.errors import InputError
from domain.tiers import HARD_TIERS, TierRules


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
    """All settings but the plan's inputs and the keys, which have places of their own."""
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
            "proof", place, f"Clean days that settle a {tier.word} question", "days",
            "Clean days, far enough apart, that settle it; strict adds one.",
        )  # fmt: skip
        yield _tier_number(
            "gaps", place, f"Minimum gap between clean days ({tier.word})", "days",
            "A clean day sooner after the last that counted does not count.",
        )  # fmt: skip


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
        lambda settings: str(settings.turn_hour),
        lambda settings, text: replace(settings, turn_hour=_whole("the hour", text)),
        unit="o'clock",
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
        "Looks",
        "Shuffle options",
        "Shuffle options where their order does not matter.",
        lambda settings: YES_NO[not settings.looks.shuffle_options],
        lambda settings, text: _with_looks(settings, shuffle_options=text == "yes"),
        YES_NO,
    )
    yield SettingsField(
        "Looks",
        "Go on by itself",
        "In the drill, show the next question at once after a response that is right and sure.",
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
