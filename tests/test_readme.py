"""The README's ten minutes, run as they are written."""

import re
import shlex
from pathlib import Path

import pytest

from tui.cli import main

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
