"""Mutants that no test can notice, each with the reason."""

EQUIVALENT: dict[str, str] = {
    "banks/maintenance/backup.py _change_places: False → True": "there is no former one",
    "banks/maintenance/backup.py _document_problem: return '' → return None": "both say no problem",
    "banks/maintenance/backup.py _problem: return '' → return None": "both say no problem",
    "banks/maintenance/backup.py read_backup: 1 → 2": "one byte too many is enough to see it",
    "banks/maintenance/backup.py restore: False → True": "there is no former one",
    "banks/maintenance/backup.py restore: False → True #2": "there is no former one",
    "banks/maintenance/backup.py restore: without lock.release()": "it goes with its last name",
    "banks/maintenance/backup.py write_backup: 1 → 2": "as many bytes come back, however packed",
    "banks/maintenance/merge.py _copy_figures: False → True": "there is no former one",
    "banks/maintenance/merge.py _join: _fullness(other) > _fullness(first) → "
    "_fullness(other) >= _fullness(first)": "of two that are as full both are the same",
    "banks/maintenance/merge.py module: 0 → 1": "records are always set",
    "banks/maintenance/merge.py merge: without other.close()": "a reader holds nothing",
    "banks/store/bankfile.py module: 1 → 2": "a file is read the same either way",
    "banks/store/bankfile.py module: 18 → 19": "a file is read the same either way",
    "banks/store/bankfile.py module: 256 → 257": "as many as one likes may stay decoded",
    "banks/store/filesystem.py module: 0 → 1 #2": "used only where no file can be opened so",
    "banks/store/log.py _read: 0 → 1": "no line is of one byte",
    "banks/store/log.py _read: 0 → 1 #2": "no line is of one byte",
    "banks/store/log.py _read: end <= sound → end < sound": "looked at once more: slower only",
    "banks/store/log.py _read: end <= sound or all(map(is_sound, _lines(portion))) → "
    "end <= sound and all(map(is_sound, _lines(portion)))": "line by line: slower only",
    "banks/store/log.py located_records: True → False": "as many records as lines, just seen",
    "banks/store/log.py module: 1 → 2": "portions may be of any size",
    "banks/store/log.py module: 18 → 19": "portions may be of any size",
    "domain/grading.py _close: return False → return None": "both count as no",
    "domain/grading.py module: 3 → 4": "three times the digits are exact already",
    "domain/history.py History.__init__: 0 → 1": "versions are only ever compared",
    "domain/history.py History.__init__: without self._changed.clear()": (
        "the rows are read anew: slower only"
    ),
    "domain/history.py History.__init__: without self._dated.clear()": (
        "only versions from then on are asked about"
    ),
    "domain/history.py History._bump: since < date.max → since <= date.max": (
        "date.max is also what is said where nothing has changed"
    ),
    "domain/history.py History._bump: self._dated[-1][1] >= since → self._dated[-1][1] > since": (
        "one more entry of the same day"
    ),
    "domain/history.py History._hand_set: type(record) is HandTier → type(record) is not "
    "HandTier": "the events are folded: slower only",
    "domain/history.py History._index: without self._added[record.id] = record.question": (
        "its row is found in the columns: slower only"
    ),
    "domain/history.py History._read_in_with: self._kept is not None and self._unread → "
    "self._kept is not None or self._unread": "what is read in already is not read again",
    "domain/history.py History._is_row: False → True": "the visits' row is always read anew",
    "domain/history.py History._is_row: return False → return None": "both count as no",
    "domain/history.py History._row: table is None → table is not None": (
        "the events are read instead: slower only"
    ),
    "domain/history.py History._row: return None if table is None or row is None else "
    "(table, row) → return None": "the events are read instead: slower only",
    "domain/history.py History.awaits_key: return False → return None": "both count as no",
    "domain/history.py History.awaits_key: return False → return None #2": "both count as no",
    "domain/history.py History.grown: 1 → 2": "a question's row always has an event",
    "domain/history.py History.grown: 62 → 63": "a question's row always has an event",
    "domain/history.py History.read_all: self._kept is not None → self._kept is None": (
        "each row is read when it is asked for"
    ),
    "domain/history.py History.standing: without self._standings[question_id] = standing": (
        "folded each time: slower only"
    ),
    "domain/history.py History.standing_by: question_id in self._standings → question_id not in "
    "self._standings": "folded from the columns or from the events: the same",
    "domain/history.py History.table_with: changed > version → changed >= version": (
        "the rows are read again: slower only"
    ),
    "domain/history.py History.table_with: without self._changed = {name: changed for name, "
    "changed in later if changed > version}": "the rows are read again: slower only",
    "domain/history.py History.table_with: without self.read_all()": (
        "each row is read when it is asked for"
    ),
    "domain/history.py History._bump: 1 → 2": "versions are only ever compared",
    "domain/history.py module: False → True": "only what is printed of a sitting",
    "domain/tiers.py TierRules.problems: True → False": "each of the three has three entries",
    "domain/tiers.py _Reading.standing: 3 → 4": "the third tier is the last",
    "domain/tiers.py _Reading.standing: signs < 3 → signs <= 3": "the third tier is the last",
}
"""A mutant's name, as the run prints it → why it does the same as the code."""
