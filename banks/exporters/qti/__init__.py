"""Content packages in the open interchange standard, 1EdTech QTI 2.2 and 3.0."""

from banks.exporters.qti.item_writer import VERSION_2_2, VERSION_3_0, Version
from banks.exporters.qti.package_writer import to_package

__all__ = ["VERSION_2_2", "VERSION_3_0", "Version", "to_package"]
