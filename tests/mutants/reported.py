"""Faults that once passed the whole suite, and the test that notices each now.

`python -m tests.mutants --reported` puts them back one by one.
"""

from dataclasses import dataclass
from types import CodeType

_SAVE = """        self.store.append([*added, *self._withdrawal(gone, act)])
        self.history.remove(gone)
        for record in added:
            self.history.add(record)
"""
_SAVE_LAST = """        self.history.remove(gone)
        for record in added:
            self.history.add(record)
        self.store.append([*added, *self._withdrawal(gone, act)])
"""
_NEWER = """    if type(version) is int and version > FORMAT:
        return f"was written by a newer resieve (format {version})"
    if type(version) is not int or """
_THIN_OUT = """    days[today] = target
    for day in set(days) - worth_keeping(days):
        discard(system, days[day])
"""


_WAITS = """            if not self._leads_away(self._typed[0]) and self._must_wait():
                self._ask_again()
                return
"""


@dataclass(frozen=True)
class Reported:
    """A fault in words; `old` becomes `new` in the file; `tests` is where it is to be noticed."""

    words: str
    file: str
    old: str
    new: str
    tests: str

    def compiled(self, path: str) -> CodeType:
        """The whole module with the fault. Raises ValueError where the code is another now."""
        with open(path, encoding="utf-8") as file:
            source = file.read()
        if source.count(self.old) != 1:
            raise ValueError(f"{self.words}: {self.file} does not hold once: {self.old}")
        return compile(source.replace(self.old, self.new), path, "exec")


_FILES = "banks/store/files.py"
REPORTED = (
    Reported(
        "files that others may read",
        "banks/store/filesystem.py",
        "flags | _FLAGS, 0o600",
        "flags | _FLAGS, 0o644",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "folders that others may read",
        "banks/store/filesystem.py",
        "mode=0o700",
        "mode=0o755",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "memory changed before the disk",
        "banks/library.py",
        _SAVE,
        _SAVE_LAST,
        "tests/banks/test_corrections.py",
    ),
    Reported(
        "a withdrawal written before the correction",
        "banks/library.py",
        "append([*added, *self._withdrawal(gone, act)])",
        "append([*self._withdrawal(gone, act), *added])",
        "tests/banks/test_corrections.py",
    ),
    Reported(
        "a failed line forgotten when flush and cut fail",
        _FILES,
        "self._failed = lines ",
        "self._failed = b'' ",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "the temporary file left",
        _FILES,
        "        discard(system, fresh)\n        raise StoreError(",
        "        raise StoreError(",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "no second look after an append",
        _FILES,
        "            if not self._is_in_place():\n                self._make_ready()\n",
        "",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "a change of size not seen",
        _FILES,
        "return self._system.stamp(self._path) == self._stamp",
        "return (self._system.stamp(self._path) or ((), 0))[:2] == (self._stamp or ())[:2]",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "a log with CRLF lost whole in a merge",
        "banks/store/log.py",
        'plain = content.removeprefix(BOM).replace(b"\\r\\n", b"\\n")',
        "plain = content.removeprefix(BOM)",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "a newer backup taken",
        "banks/maintenance/backup.py",
        _NEWER + "not (version == FORMAT",
        "    if type(version) is not int or not (version >= FORMAT",
        "tests/banks/maintenance/test_restore.py",
    ),
    Reported(
        "old copies thinned out before the new one is written",
        "banks/maintenance/backup.py",
        "    write_backup(folder, target, system)\n" + _THIN_OUT,
        _THIN_OUT + "    write_backup(folder, target, system)\n",
        "tests/banks/maintenance/test_backup.py",
    ),
    Reported(
        "an own figure overwritten in a merge",
        "banks/maintenance/merge.py",
        "if not target.exists():",
        "if True:",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "a figure's name not reduced",
        "banks/store/folder.py",
        "/ Path(name).name",
        "/ name",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "the rank of two versions turned round",
        "banks/maintenance/merge.py",
        "key=rank)",
        "key=rank, reverse=True)",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "a bank's count of questions not checked",
        "banks/store/bankfile.py",
        "if header.questions != len(tables.questions):",
        "if False:",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "proof kept over a new sign",
        "domain/tiers.py",
        "self.settled, self.proof, self.counts_from = False, 0, _NONE_COUNTED",
        "self.settled, self.proof = False, 0",
        "tests/domain/test_tiers.py",
    ),
    Reported(
        "a choice with an own verdict and no key graded blank",
        "domain/grading.py",
        "    if not key:\n        return response.verdict or Verdict.BLANK",
        "    if not key:\n        return Verdict.BLANK",
        "tests/domain/test_grading.py",
    ),
    Reported(
        "only the first numeric key counted",
        "domain/grading.py",
        "for target in map(number, key)",
        "for target in map(number, key[:1])",
        "tests/domain/test_grading.py",
    ),
    Reported(
        "wide digits no numbers",
        "domain/grading.py",
        'plain = unicodedata.normalize("NFKC", text).strip()',
        "plain = text.strip()",
        "tests/domain/test_grading.py",
    ),
    Reported(
        "a number beyond all measure raises",
        "domain/grading.py",
        "    return value if value.is_finite() else None",
        "    return value",
        "tests/domain/test_grading.py",
    ),
    Reported(
        "an error behind a screen hangs it",
        "tui/base_screen.py",
        "        except Exception as error:\n            is_up",
        "        except ResieveError as error:\n            is_up",
        "tests/tui/test_background.py",
    ),
    Reported(
        "a log that was shortened goes unnoticed",
        "banks/store/folder.py",
        "            if seen.get(name, Sound()).records < before.records\n",
        "            if False\n",
        "tests/banks/maintenance/test_missing.py",
    ),
    Reported(
        "commands keep no daily copy",
        "tui/commands/frame.py",
        "        if not read_only:\n            self.closing.callback(self._back_up, library)\n",
        "",
        "tests/tui/commands/test_maintenance.py",
    ),
    Reported(
        "texts reach the terminal as they are",
        "tui/app.py",
        "return [Segment(safe_line(text), style, control)",
        "return [Segment(text, style, control)",
        "tests/tui/test_harmless.py",
    ),
    Reported(
        "commands write texts as they are",
        "tui/commands/frame.py",
        'self._write(safe_text(line) + "\\n")',
        'self._write(line + "\\n")',
        "tests/tui/test_harmless.py",
    ),
    Reported(
        "JSON holds texts as they are",
        "tui/commands/frame.py",
        "msgspec.json.encode(safe_value(value))",
        "msgspec.json.encode(value)",
        "tests/tui/test_harmless.py",
    ),
    Reported(
        "a merge takes what is no record",
        "banks/maintenance/merge.py",
        "            if line.problem:\n",
        "            if not line.line:\n",
        "tests/banks/maintenance/test_merge.py",
    ),
    Reported(
        "key bytes that are no text end the app",
        "tui/terminal.py",
        '("utf-8")("replace")',
        '("utf-8")("strict")',
        "tests/tui/test_terminal_input.py",
    ),
    Reported(
        "a full output fails what was recorded",
        "tui/commands/frame.py",
        "return status if self.may_write else max(status, 1)",
        "return max(status, 1)",
        "tests/tui/commands/test_output.py",
    ),
    Reported(
        "a standing kept though a change came between",
        "domain/history.py",
        "                if version == self.version:\n                    self._standings",
        "                if True:\n                    self._standings",
        "tests/domain/test_history_threads.py",
    ),
    Reported(
        "a restore that failed leaves its files",
        "banks/maintenance/backup.py",
        "                _drop(coming, system)\n            raise",
        "                pass\n            raise",
        "tests/banks/maintenance/test_restore.py",
    ),
    Reported(
        "a store deleted while open is begun anew",
        "banks/store/folder.py",
        "                self._lock.confirm()",
        "                pass",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "a pipe among the files hangs",
        "banks/store/filesystem.py",
        "    if not stat.S_ISREG(os.fstat(fd).st_mode):",
        "    if False:",
        "tests/faults/test_underneath.py",
    ),
    Reported(
        "a figure is opened whatever it holds",
        "tui/screens/annotations.py",
        "    if not _is_picture(path):",
        "    if False:",
        "tests/tui/test_figures.py",
    ),
    Reported(
        "keys typed ahead are lost",
        "tui/app.py",
        _WAITS,
        "",
        "tests/tui/test_background.py",
    ),
    Reported(
        "a paste's escape presses a key",
        "tui/terminal.py",
        "yield Paste(safe_text(",
        "yield from self._keys((",
        "tests/tui/test_terminal_input.py",
    ),
    Reported(
        "a number beyond 64 bits ends what is kept",
        "banks/views/kept_views.py",
        "with suppress(OverflowError):",
        "with suppress(KeyError):",
        "tests/banks/test_kept_views.py",
    ),
)
