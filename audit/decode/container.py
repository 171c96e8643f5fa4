"""What a container's header teaches: the nouns that every container's parser returns."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from audit.decode.extent import Extent
from audit.facts import StemFormat
from audit.results import ContainerFault

MAX_CHANNELS = 32
MIN_RATE_HZ = 1_000
MAX_RATE_HZ = 1_000_000
"""Outside these a header is not believed. 768 kHz and 32 channels are the most in use (common practice)."""


class RefusedError(Exception):
    """The file cannot be decoded; the message is the reason, a plain sentence part. Stays in this package."""


class ForeignFormatError(RefusedError):
    """It may well be whole, but it is of a kind that is not decoded here."""


class Coding(str, Enum):
    """How one stored number stands for one sample."""

    SIGNED = "signed"
    UNSIGNED = "unsigned"
    FLOAT = "float"
    ALAW = "alaw"
    ULAW = "ulaw"


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleLayout:
    """How uncompressed samples lie in the file: interleaved, `sample_bytes` each, left-justified."""

    coding: Coding
    sample_bytes: int  # 1 … 4; 4 or 8 for FLOAT
    big_endian: bool

    @property
    def encoding(self) -> str:
        """libsndfile's name of this subtype."""
        if self.coding is Coding.FLOAT:
            return "DOUBLE" if self.sample_bytes == 8 else "FLOAT"
        if self.coding in (Coding.ALAW, Coding.ULAW):
            return self.coding.name
        if self.sample_bytes == 1:
            return "PCM_U8" if self.coding is Coding.UNSIGNED else "PCM_S8"
        return f"PCM_{8 * self.sample_bytes}"

    @property
    def lossy(self) -> bool:
        """G.711 keeps 8 of 13 or 14 bits."""
        return self.coding in (Coding.ALAW, Coding.ULAW)


@dataclass(frozen=True, slots=True, kw_only=True)
class Header:
    """One file's header: its format, what is wrong with the container, and how its audio is to be read."""

    format: StemFormat | None  # None: nothing can be decoded; a fault says why
    faults: tuple[ContainerFault, ...] = ()
    md5: bytes | None = None  # FLAC STREAMINFO: of the unencoded audio; None where it is absent or all zero
    layout: SampleLayout | None = None  # None: libsndfile decodes; else samples are read as they lie
    stream_offset_bytes: int = 0  # for libsndfile: where the stream begins, behind tags


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """A container whose audio libsndfile decodes; what its own header said, for `coded.complete_header`."""

    container: str
    stream_offset_bytes: int = 0  # where it begins, behind tags
    faults: tuple[ContainerFault, ...] = ()
    md5: bytes | None = None
    bits: int | None = None  # of lossless codecs
    time_reference_frames: int | None = None


def check_claims(channels: int, rate_hz: int) -> None:
    """Raises RefusedError where a header claims what no audio file has."""
    if not 1 <= channels <= MAX_CHANNELS:
        raise RefusedError(f"its header claims {channels} channels; 1 to {MAX_CHANNELS} are read")
    if not MIN_RATE_HZ <= rate_hz <= MAX_RATE_HZ:
        raise RefusedError(f"its header claims a sample rate of {rate_hz} Hz")


def plain_header(
    container: str,
    layout: SampleLayout,
    extent: Extent,
    *,
    rate_hz: int,
    channels: int,
    begin: int,
    bits: int,
) -> Header:
    """The header of a file whose samples are read as they lie, from byte `begin` on.

    bits: valid bits of a sample; not kept of a lossy coding, which has none.
    """
    stem_format = StemFormat(
        container=container,
        encoding=layout.encoding,
        sample_rate_hz=rate_hz,
        channels=channels,
        frames=extent.frames,
        bits=None if layout.lossy else bits,
        is_float=layout.coding is Coding.FLOAT,
        lossy=layout.lossy,
        data_offset_bytes=begin,
        frame_bytes=channels * layout.sample_bytes,
    )
    return Header(format=stem_format, faults=(extent.fault,) if extent.fault else (), layout=layout)


def other_form(family: str, form: bytes, wanted: str) -> RefusedError:
    """The error for a file of chunks whose form, four letters, is none that holds such audio."""
    if not form.strip(b"\0"):
        return RefusedError(f"{family} that does not say what it holds, not {wanted}")
    return RefusedError(f"{family} that holds {form.decode('latin-1')!r}, not {wanted}")


def check_layout(layout: SampleLayout) -> None:
    """Raises RefusedError for sample widths that no converter makes."""
    widths = {Coding.FLOAT: (4, 8), Coding.SIGNED: (1, 2, 3, 4), Coding.UNSIGNED: (1,)}
    if layout.sample_bytes not in widths.get(layout.coding, (1,)):
        raise RefusedError(f"its header claims {layout.coding.value} samples of {layout.sample_bytes} bytes")
