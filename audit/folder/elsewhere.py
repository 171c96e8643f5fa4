"""Whether the system itself says that a file's bytes are not on this disk: a cloud's placeholder."""

from __future__ import annotations

SF_DATALESS = 0x4000_0000
"""st_flags of macOS: the file is there, its data is not. Source: Apple, sys/stat.h [memory]."""

OFFLINE, RECALL_ON_OPEN, RECALL_ON_DATA_ACCESS = 0x1000, 0x4_0000, 0x40_0000
"""st_file_attributes of Windows: the data is brought when the file is opened or read. Source: Microsoft, File
Attribute Constants [memory]."""


def is_elsewhere(state: object) -> bool:
    """Whether what `os.stat` gave says so. Linux has no such flag: there only the blocks on disk tell."""
    flags: int = getattr(state, "st_flags", 0)
    attributes: int = getattr(state, "st_file_attributes", 0)
    return bool(flags & SF_DATALESS or attributes & (OFFLINE | RECALL_ON_OPEN | RECALL_ON_DATA_ACCESS))
