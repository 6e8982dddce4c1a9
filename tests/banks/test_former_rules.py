"""Tier rules stored by the former kind of rule are translated once, and said."""

from pathlib import Path

import pytest

from banks.store.checked_json import SealedStorage
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.tiers import TierRules
from tests.builders import library


@pytest.mark.parametrize(
    ("former", "rules"),
    [
        ({"release": [3, 3, 3]}, TierRules(strict=True)),
        ({"spacing": [1, 1, 1]}, TierRules()),
        ({"spacing": [1, 2, 2]}, TierRules(strict=True)),
        ({"doubt_promotes": False}, TierRules(unsure_signs=False)),
    ],
)
def test_former_rules_are_translated_and_said_once(
    tmp_path: Path, former: dict[str, object], rules: TierRules
) -> None:
    library(tmp_path).close()
    document = SealedStorage(tmp_path / "store.json", System())
    tables = document.read() or {}
    document.write(tables | {"settings": {"1": {"turn_hour": 4, "ladder": former}}})

    told_at_start = []
    for _ in range(2):
        store = Store.open(tmp_path)
        settings = store.settings()
        told_at_start.append([notice for notice in store.notices if "tier rules are new" in notice])
        store.close()
        assert (settings.tier_rules, settings.turn_hour) == (rules, 4)

    assert [len(notices) for notices in told_at_start] == [1, 0]
    assert f"were read as “{'strict' if rules.strict else 'usual'}”" in told_at_start[0][0]
