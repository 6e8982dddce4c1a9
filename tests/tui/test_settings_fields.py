"""The settings as a list: every field shows, changes and refuses."""

import pytest

from banks.settings import Settings
from domain.errors import InputError
from tui.screens.settings import SettingsField, fields

FIELDS = {field.label: field for field in fields()}


@pytest.mark.parametrize("field", FIELDS.values(), ids=FIELDS)
def test_a_field_shows_what_it_was_changed_to_and_nothing_else_changes(
    field: SettingsField,
) -> None:
    before = Settings()
    value = field.next_choice(before) if field.choices else "4"

    after = field.change(before, value)

    shown = field.show(after)
    assert shown == value if field.choices else float(shown.removesuffix(":00")) == 4
    others = [other for other in FIELDS.values() if other is not field]
    assert [other.show(after) for other in others] == [other.show(before) for other in others]


@pytest.mark.parametrize(
    "field", [f for f in FIELDS.values() if not f.choices], ids=lambda f: f.label
)
def test_a_number_that_is_none_is_refused_in_words(field: SettingsField) -> None:
    with pytest.raises(InputError, match="whole number"):
        field.change(Settings(), "two")


def test_stepping_through_the_choices_comes_back() -> None:
    colours = FIELDS["Colours"]
    settings = Settings()
    seen = []
    for _ in colours.choices:
        settings = colours.change(settings, colours.next_choice(settings))
        seen.append(colours.show(settings))

    assert sorted(seen) == sorted(colours.choices)
    assert settings == Settings()


def test_a_rule_out_of_range_is_a_problem_of_the_settings() -> None:
    changed = FIELDS["Clean days that settle a hard question"].change(Settings(), "99")

    assert "1 to 20" in changed.problems()[0]


def test_a_number_reads_with_its_unit() -> None:
    apart = FIELDS["Minimum gap between clean days (hardest)"]

    assert apart.reading(Settings()) == "7 days"
    assert apart.reading(apart.change(Settings(), "1")) == "1 day"
    assert FIELDS["Colours"].reading(Settings()) == "match the terminal"
