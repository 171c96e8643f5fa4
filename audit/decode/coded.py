"""The decoders for everything that libsndfile has to decode: FLAC with its checksum, and the other codecs."""

from __future__ import annotations

from contextlib import nullcontext

import numpy as np
from numpy.typing import NDArray

from audit.decode.checksum import RunningChecksum
from audit.decode.extent import damaged, truncated, unreadable
from audit.decode.flacframes import ends_whole
from audit.decode.mpegstream import quiet_decoder
from audit.decode.ogg import find_damaged_page
from audit.decode.sndfile import complaint_of, open_stream, read_frames
from audit.decode.source import Source, reason_of
from audit.facts import StemFormat
from audit.results import ContainerFault
from audit.units import clock, grouped

_FULL_SCALE = np.float32(2.0**-31)
_UNSURE_LENGTH = ("MPEG_LAYER", "ADPCM", "GSM", "G72", "VOX", "NMS")
# libsndfile's frame counts of these are estimates, or rounded up to whole coding blocks


class CodedDecoder:
    """Any codec but FLAC, as float32. See `blocks.Decoder`."""

    def __init__(self, source: Source, stem_format: StemFormat, stream_offset_bytes: int) -> None:
        self._source = source
        self._format = stem_format
        self._stream = open_stream(source, stem_format.container, stream_offset_bytes)
        self._done = 0
        self._ended = False
        self.faults: tuple[ContainerFault, ...] = ()
        self.md5_checked: bool | None = None

    def read(self, frames: int) -> NDArray[np.float32]:
        block = np.empty((0 if self._ended else frames, self._format.channels), np.float32)
        with quiet_decoder() if self._format.container == "MP3" else nullcontext():
            got = read_frames(self._stream, block)
        self._done += got.frames
        if got.frames < len(block) or got.error is not None:
            self._finish(None if got.error is None else complaint_of(got.error))
        return block[: got.frames]

    def _finish(self, complaint: str | None) -> None:
        """Called once, where no more frames come."""
        self._ended = True
        if complaint is not None:
            self.faults = (damaged(f"decoding breaks off: {complaint}", self._done),)
        elif self._format.container == "OGG":
            self._check_pages()
        elif self._done < self._format.frames and not self._format.encoding.startswith(_UNSURE_LENGTH):
            self.faults = (truncated(self._format.frames, self._done, self._format.sample_rate_hz),)

    def _check_pages(self) -> None:
        try:
            place = find_damaged_page(self._source)
        except OSError as error:
            self.faults = (unreadable(f"the disk gave up while it was read: {reason_of(error)}"),)
            return
        if place is not None:
            words = f"a page's checksum does not match, some {grouped(place)} frames in"
            self.faults = (damaged(words, min(place, self._done)),)

    def close(self) -> None:
        self._stream.close()
        self._source.close()


class FlacDecoder:
    """FLAC as integers, so that its MD5 can be taken of the very samples. See `blocks.Decoder`."""

    def __init__(self, source: Source, stem_format: StemFormat, md5: bytes | None) -> None:
        self._source = source
        self._format = stem_format
        self._stream = open_stream(source, "FLAC", 0)
        self._sample_bytes = (stem_format.bits or 24) // 8
        self._wide = np.empty((0, stem_format.channels), np.int32)
        self._checksum: RunningChecksum | None = None
        if md5 is not None:
            from audit.decode.flac_kernel import pack_and_scale

            self._checksum, self._pack_and_scale = RunningChecksum(md5), pack_and_scale
        self._done = 0
        self._ended = False
        self.faults: tuple[ContainerFault, ...] = ()
        self.md5_checked: bool | None = None if md5 is None else False

    def read(self, frames: int) -> NDArray[np.float32]:
        if self._ended:
            frames = 0
        if len(self._wide) < frames:
            self._wide = np.empty((frames, self._format.channels), np.int32)
        got = read_frames(self._stream, self._wide[:frames])
        block = self._wide[: got.frames]
        self._done += got.frames
        if self._checksum is not None and got.frames:
            samples = np.empty(block.shape, np.float32)
            packed = np.empty(block.size * self._sample_bytes, np.uint8)
            self._pack_and_scale(block.reshape(-1), self._sample_bytes, packed, samples.reshape(-1))
            self._checksum.add(packed)
        else:
            samples = block.astype(np.float32)
            samples *= _FULL_SCALE
        if got.frames < frames or got.error is not None:
            self._finish(got.error is not None)
        return samples

    def _finish(self, broken: bool) -> None:
        """Called once, where no more frames come."""
        if self._ended:
            return
        self._ended = True
        if broken or self._done < self._format.frames:
            self.faults = (self._why_it_ended(),)
        elif self._checksum is not None:
            self.md5_checked = self._checksum.matches()
            if not self.md5_checked:
                words = "it decodes, but not to the audio that was encoded: the stored MD5 does not match"
                self.faults = (damaged(words),)

    def _why_it_ended(self) -> ContainerFault:
        total, rate_hz = self._format.frames, self._format.sample_rate_hz
        try:
            whole = ends_whole(self._source, total)
        except OSError as error:
            return unreadable(f"the disk gave up while it was read: {reason_of(error)}", self._done)
        if whole:
            words = f"broken at {clock(self._done / rate_hz)} of {clock(total / rate_hz)}"
            return damaged(words, self._done)
        return truncated(total, self._done, rate_hz)

    def close(self) -> None:
        if self._checksum is not None:
            self._checksum.close()
        self._stream.close()
        self._source.close()
