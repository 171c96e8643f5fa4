"""The decoder for uncompressed audio: samples read as they lie, from the data's first byte on."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from audit.decode.container import SampleLayout
from audit.decode.extent import truncated, unreadable
from audit.decode.samples import NATIVE_FLOAT, SPARE_BYTES, to_float32
from audit.decode.source import Source, reason_of
from audit.facts import StemFormat
from audit.results import ContainerFault


class PcmDecoder:
    """Reads as many frames as the header's parser found in the file. See `blocks.Decoder`."""

    def __init__(self, source: Source, stem_format: StemFormat, layout: SampleLayout) -> None:
        self._source = source
        self._layout = layout
        self._format = stem_format
        self._frame_bytes = stem_format.channels * layout.sample_bytes
        self._as_it_is = layout == NATIVE_FLOAT  # read straight into the block
        self._left = stem_format.frames
        self._raw = np.empty(SPARE_BYTES, np.uint8)
        self.faults: tuple[ContainerFault, ...] = ()
        self.md5_checked: bool | None = None
        source.file.seek(stem_format.data_offset_bytes or 0)

    def read(self, frames: int) -> NDArray[np.float32]:
        wanted = min(frames, self._left)
        if self._as_it_is:
            block = np.empty((wanted, self._format.channels), np.float32)
            got = self._fill(block.reshape(-1).view(np.uint8).data) // self._frame_bytes
        else:
            need = wanted * self._frame_bytes
            if len(self._raw) < need + SPARE_BYTES:
                self._raw = np.zeros(need + SPARE_BYTES, np.uint8)
            got = self._fill(self._raw.data[:need]) // self._frame_bytes
            samples = to_float32(self._raw, got * self._format.channels, self._layout)
            block = samples.reshape(got, self._format.channels)
        self._left -= got
        if got < wanted:
            self._break_off()
        return block[:got]

    def move_to(self, frame: int) -> None:
        """Go on reading at this frame; behind the last one nothing is left."""
        frame = min(frame, self._format.frames)
        self._source.file.seek((self._format.data_offset_bytes or 0) + frame * self._frame_bytes)
        self._left = self._format.frames - frame

    def _fill(self, buffer: memoryview) -> int:
        """Bytes read into the buffer; fewer than it holds only at the file's end or a failing disk."""
        filled = 0
        try:
            while filled < len(buffer) and (got := self._source.file.readinto(buffer[filled:])):
                filled += got
        except OSError as error:
            frame = self._format.frames - self._left + filled // self._frame_bytes
            self.faults = (unreadable(f"the disk gave up while it was read: {reason_of(error)}", frame),)
        return filled

    def _break_off(self) -> None:
        there = self._format.frames - self._left
        self._left = 0
        if not self.faults:  # the file became shorter after its header was read
            self.faults = (truncated(self._format.frames, there, self._format.sample_rate_hz),)

    def close(self) -> None:
        self._source.close()
