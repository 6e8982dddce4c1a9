"""The README: its ten minutes run as they are written, the keys and commands it names looked up."""

import re
import shlex
from pathlib import Path

import pytest

from tui.base_app import GLOBAL
from tui.cli import commands, main
from tui.keymap import all_screens

README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
TUTORIAL = README.partition("## Ten minutes")[2].partition("## The screens")[0]
HERE_DOCUMENT = re.compile(r"cat > (\S+) <<'EOF'\n(.*?)^EOF\n", re.DOTALL | re.MULTILINE)


def test_every_command_of_the_tutorial_works(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RESIEVE_STORE", str(tmp_path / "store"))
    outputs = {}
    for block in re.findall(r"^```\n(.*?)^```", TUTORIAL, re.DOTALL | re.MULTILINE):
        for name, content in HERE_DOCUMENT.findall(block):
            Path(name).write_text(content, encoding="utf-8")
        for line in HERE_DOCUMENT.sub("", block).splitlines():
            words = shlex.split(line)
            assert words[0] == "resieve"
            assert main(words[1:]) == 0, (line, capsys.readouterr().err)
            outputs[line] = capsys.readouterr().out

    triage = outputs["resieve triage --tier harder,hardest"]
    assert re.findall(r"· (\d+)$", triage, re.MULTILINE) == ["7", "13"]
    assert Path("sweep.pdf").read_bytes().startswith(b"%PDF")
    assert len(outputs) == 11


KEY_WORD = r"(?:`\S+`|(?:ctrl|Shift)\+\w)"
SCREEN_WORDS = "|".join(re.escape(screen.HEADING) for screen in all_screens() if screen.HEADING)
KEYS_ON_SCREENS = re.compile(
    rf"({KEY_WORD}) on (?:the )?((?:{SCREEN_WORDS}|Exam & time)"
    rf"(?:(?:, | and )(?:{SCREEN_WORDS}))*)"
)
PLAN_FORM = {"Exam & time": "Exam and time"}
"""What the README calls the form, as its action does, and its heading."""


def plain_key(word: str) -> str:
    """ "`W`", "Shift+R", "ctrl+l" as an action declares them: "W", "R", "ctrl+l"."""
    return word.strip("`").removeprefix("Shift+")


def test_every_key_that_is_named_for_a_screen_is_bound_there() -> None:
    bound = {
        (key, screen.HEADING)
        for screen in all_screens()
        for action in screen.all_actions()
        for key in action.key.split(",")
    }
    named = [
        (plain_key(key), PLAN_FORM.get(screen, screen))
        for key, screens in KEYS_ON_SCREENS.findall(README)
        for screen in re.split(", | and ", screens)
    ]

    assert len(named) >= 9
    assert [each for each in named if each not in bound] == []


def test_the_table_of_screens_has_the_keys_that_lead_there() -> None:
    rows = re.findall(r"^\| (f\d+) \| (\w+) \|", README, re.MULTILINE)
    ways = {action.key: action.label for action in GLOBAL if re.fullmatch(r"f\d+", action.key)}

    assert dict(rows) == ways


def test_every_command_and_option_that_is_named_is_there(capsys: pytest.CaptureFixture) -> None:
    options: dict[str, set[str]] = {}
    for command in commands():
        with pytest.raises(SystemExit):
            main([command.name, "--help"])
        options[command.name] = set(re.findall(r"--[\w-]+", capsys.readouterr().out))
    with pytest.raises(SystemExit):
        main(["--help"])
    anywhere = set(re.findall(r"--[\w-]+", capsys.readouterr().out)).union(*options.values())

    in_table, missing = set(), []
    for line in README.replace(TUTORIAL, "").splitlines():
        spans = [span.removeprefix("resieve ").split() for span in re.findall(r"`([^`]+)`", line)]
        first = [words[0] for words in spans if words[0] in options]
        row = set().union(*(options[name] for name in first)) if line.startswith("|") else anywhere
        in_table.update(first if line.startswith("|") else ())
        for words in spans:
            known = options.get(words[0], row)
            missing += [(words, word) for word in words if word[:2] == "--" and word not in known]

    assert missing == []
    assert in_table == set(options)
