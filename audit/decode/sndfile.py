"""libsndfile as a plain stream: for codecs, and for containers whose samples are not read as they lie."""

from __future__ import annotations

from contextlib import nullcontext

import numpy as np
import soundfile
from numpy.typing import NDArray

from audit.decode.container import MAX_CHANNELS, Coded, ForeignFormatError, Header, RefusedError, check_claims
from audit.decode.extent import empty
from audit.decode.mpegstream import TaggedMpeg, quiet_decoder, tagged_if_needed
from audit.decode.source import AtWork, Source
from audit.facts import StemFormat

_UNKNOWN_FRAMES = 1 << 53  # libsndfile says 2^63 − 1 where a stream does not tell its length
_COUNT_FRAMES = 65536

_LOSSLESS_BITS: dict[str, int | None] = {
    "PCM_S8": 8, "PCM_U8": 8, "PCM_16": 16, "PCM_24": 24, "PCM_32": 32, "FLOAT": 32, "DOUBLE": 64,
    "ALAC_16": 16, "ALAC_20": 20, "ALAC_24": 24, "ALAC_32": 32,
}  # fmt: skip


class SoundStream(soundfile.SoundFile):  # type: ignore[misc]  # soundfile carries no types
    """A file that is only ever read forward.

    soundfile seeks to where it stands after each read of a seekable file. That costs time in every codec,
    and in a damaged FLAC the decoder would look for the next good frame and hide the hole.
    """

    def seekable(self) -> bool:
        return False


def open_stream(source: Source, container: str, stream_offset_bytes: int) -> SoundStream:
    """libsndfile's reader over an open file, which stays the caller's to close. Raises RefusedError."""
    source.file.seek(0)
    target: int | TaggedMpeg = source.file.fileno()
    if container == "MP3":
        target = tagged_if_needed(source, stream_offset_bytes) or target
        source.file.seek(0)
    try:
        with quiet_decoder() if container == "MP3" else nullcontext():
            stream = SoundStream(target, closefd=False)
    except soundfile.LibsndfileError as error:
        words = complaint_of(error)
        if "unsupported encoding" in words or _is_ogg_flac(source, stream_offset_bytes):
            raise ForeignFormatError(f"its codec is not decoded here: {words}") from None
        raise RefusedError(f"the decoder refuses it: {words}") from None
    if not 1 <= stream.channels <= MAX_CHANNELS:
        stream.close()
        raise RefusedError(f"it has {stream.channels} channels; 1 to {MAX_CHANNELS} are read")
    return stream


def _is_ogg_flac(source: Source, offset_bytes: int) -> bool:
    """FLAC's mapping into Ogg: its first packet stands behind a page header of one segment."""
    return source.at(offset_bytes, 4) == b"OggS" and source.at(offset_bytes + 28, 5) == b"\x7fFLAC"


def complaint_of(error: soundfile.LibsndfileError) -> str:
    """libsndfile's reason as a part of a sentence."""
    words = str(error.error_string).removeprefix("Error : ").strip().rstrip(".")
    if "not exist" in words:  # libsndfile's words where mpg123 finds nothing in a file that is open
        return "it finds nothing that it can decode"
    return words


def complete_header(source: Source, coded: Coded) -> Header:
    """The header of a coded file, with what libsndfile says of it. Raises RefusedError."""
    with open_stream(source, coded.container, coded.stream_offset_bytes) as stream:
        check_claims(stream.channels, stream.samplerate)
        lossless = stream.subtype in _LOSSLESS_BITS
        frames = stream.frames if stream.frames < _UNKNOWN_FRAMES else count_frames(stream, source.at_work)
        stem_format = StemFormat(
            container=coded.container,
            encoding=stream.subtype,
            sample_rate_hz=stream.samplerate,
            channels=stream.channels,
            frames=frames,
            bits=(coded.bits or _LOSSLESS_BITS[stream.subtype]) if lossless else None,
            is_float=stream.subtype in ("FLOAT", "DOUBLE"),
            lossy=not lossless,
            time_reference_frames=coded.time_reference_frames,
        )
    faults = coded.faults if frames else (empty("it holds no frame of audio"),)
    return Header(
        format=stem_format, faults=faults, md5=coded.md5, stream_offset_bytes=coded.stream_offset_bytes
    )


def count_frames(stream: SoundStream, at_work: AtWork) -> int:
    """Frames that can be decoded: for streams whose header does not tell. Reads the whole file."""
    block = np.empty((_COUNT_FRAMES, stream.channels), np.float32)
    total = 0
    while (read := read_frames(stream, block)).frames:
        total += read.frames
        at_work()
        if read.error is not None:
            break
    return total


class Read:
    """What one read gave: frames in the buffer, and the decoder's complaint where it broke off."""

    __slots__ = ("error", "frames")

    def __init__(self, frames: int, error: soundfile.LibsndfileError | None = None) -> None:
        self.frames = frames
        self.error = error


def read_frames(stream: SoundStream, block: NDArray[np.float32] | NDArray[np.int32]) -> Read:
    """Fills the block (frames, channels) from the stream; fewer frames only at the end or at an error.

    soundfile raises without telling how much came before the error, so the first channel is marked with
    what no decoder writes: NaN, or an integer whose low bits are never used (FLAC has 24 bits of 32).
    """
    marker = np.nan if block.dtype == np.float32 else 1
    block[:, 0] = marker
    filled = 0
    while filled < len(block):
        rest = block[filled:]
        try:
            got = stream.buffer_read_into(rest, block.dtype.name)
        except soundfile.LibsndfileError as error:
            column = rest[:, 0]
            unwritten = np.isnan(column) if marker != 1 else column == 1
            return Read(filled + (int(np.argmax(unwritten)) if unwritten.any() else len(rest)), error)
        if got == 0:
            break
        filled += got
    return Read(filled)
