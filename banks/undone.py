"""What undo remembers of this run."""

from collections.abc import Mapping

from msgspec import Struct

from domain.responses import AnyRecord, Response


class Undone(Struct, frozen=True):
    """What can be taken back, in words and as records, and the corrected responses that count
    again for it.
    """

    label: str
    records: tuple[AnyRecord, ...]
    replaced: tuple[Response, ...] = ()

    def renamed(self, again: Mapping[str, Response]) -> "Undone":
        """The same where responses were restored under new ids: old id → restored response."""
        records = tuple(again.get(record.id, record) for record in self.records)
        replaced = tuple(again.get(record.id, record) for record in self.replaced)
        return Undone(self.label, records, replaced)
