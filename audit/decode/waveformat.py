"""The format chunk of WAVE files and its kin (RIFF, RF64, BW64, Wave64), and the bext time reference."""

from __future__ import annotations

import struct
from dataclasses import dataclass, replace

from audit.decode.container import Coding, RefusedError, SampleLayout, check_claims, check_layout
from audit.decode.extent import damaged
from audit.results import ContainerFault
from audit.units import grouped

TAG_PCM, TAG_FLOAT, TAG_ALAW, TAG_ULAW, TAG_EXTENSIBLE = 0x0001, 0x0003, 0x0006, 0x0007, 0xFFFE

_CODINGS = {
    TAG_PCM: Coding.SIGNED,
    TAG_FLOAT: Coding.FLOAT,
    TAG_ALAW: Coding.ALAW,
    TAG_ULAW: Coding.ULAW,
}
_SUBFORMAT_TAILS = (
    bytes.fromhex("000000001000800000aa00389b71"),  # KSDATAFORMAT_SUBTYPE_… behind the two bytes of the tag
    bytes.fromhex("00002107d3118644c8c1ca000000"),  # the same for ambisonic files
)

BEXT_TIME_OFFSET = 338
"""EBU Tech 3285: TimeReference low and high, frames since midnight (v2, May 2011)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WaveFormat:
    """The fields of a `fmt ` chunk, checked."""

    tag: int  # of the sub-format where the chunk is extensible
    channels: int
    rate_hz: int
    block_align: int
    stored_bits: int
    valid_bits: int
    layout: SampleLayout | None  # None: a coded format that libsndfile has to decode
    fault: ContainerFault | None  # a frame size that contradicts the rest

    @property
    def frame_bytes(self) -> int | None:
        return None if self.layout is None else self.channels * self.layout.sample_bytes


def read_wave_format(body: bytes, *, big_endian: bool = False) -> WaveFormat:
    """Reads a `fmt ` chunk's body. Raises RefusedError where it describes no audio.

    The frame size follows from channels and bits; a contradicting blockAlign is a fault, because some
    readers go by it and lose frames (own measurement with ffmpeg 5.1.9). A wrong byteRate harms no reader.
    """
    if len(body) < 16:
        raise RefusedError(f"its format chunk holds {len(body)} bytes, at least 16 are needed")
    order = ">" if big_endian else "<"
    tag, channels, rate_hz, _byte_rate, align, bits = struct.unpack(order + "HHIIHH", body[:16])
    check_claims(channels, rate_hz)
    valid_bits = bits
    if tag == TAG_EXTENSIBLE:
        if len(body) < 40:
            raise RefusedError(f"its extensible format chunk holds {len(body)} bytes, 40 are needed")
        claimed, _mask, tag = struct.unpack(order + "HIH", body[18:26])
        if body[26:40] not in _SUBFORMAT_TAILS:
            tag = TAG_EXTENSIBLE
        if 0 < claimed <= bits:
            valid_bits = claimed
    layout = _layout(tag, bits, align // channels, big_endian)
    fault = None
    if layout is not None and align != channels * layout.sample_bytes:
        fault = damaged(
            f"the header says {grouped(align)} bytes a frame, {grouped(channels * layout.sample_bytes)} are "
            "stored: some players lose frames or play noise"
        )
    return WaveFormat(
        tag=tag, channels=channels, rate_hz=rate_hz, block_align=align, stored_bits=bits,
        valid_bits=valid_bits, layout=layout, fault=fault,
    )  # fmt: skip


def fit_to_audio(wave: WaveFormat, audio: bytes) -> WaveFormat:
    """Settles what 24 bits beside a frame size of four bytes a sample mean: the audio itself tells.

    audio: pieces of the data chunk that begin with a frame. Where the lowest of every four bytes is zero, the
    samples stand left-justified in four bytes, and no field is wrong.
    """
    layout = wave.layout
    if (
        layout is None
        or wave.tag != TAG_PCM
        or wave.stored_bits != 24
        or wave.block_align != 4 * wave.channels
    ):
        return wave
    if any(audio[3 if layout.big_endian else 0 :: 4]):
        return wave
    return replace(wave, layout=replace(layout, sample_bytes=4), fault=None)


def _layout(tag: int, bits: int, bytes_by_align: int, big_endian: bool) -> SampleLayout | None:
    coding = _CODINGS.get(tag)
    if coding is None:
        return None
    if not 1 <= bits <= 64:
        raise RefusedError(f"its header claims samples of {bits} bits")
    sample_bytes = -(-bits // 8)
    if tag == TAG_PCM and bits % 8 and sample_bytes < bytes_by_align <= 4:
        sample_bytes = bytes_by_align  # 20 bits in four bytes: left-justified in what the frame size gives
    if coding in (Coding.ALAW, Coding.ULAW):
        sample_bytes = 1
    if coding is Coding.SIGNED and sample_bytes == 1:
        coding = Coding.UNSIGNED  # WAVE keeps 8 bits unsigned, and only those
    layout = SampleLayout(coding=coding, sample_bytes=sample_bytes, big_endian=big_endian)
    check_layout(layout)
    return layout


def read_bext_time(body: bytes, *, big_endian: bool = False) -> int | None:
    """TimeReference of a bext chunk's first 346 bytes; None where the chunk is too short."""
    field = body[BEXT_TIME_OFFSET : BEXT_TIME_OFFSET + 8]
    if len(field) < 8:
        return None
    low, high = struct.unpack((">" if big_endian else "<") + "II", field)
    return int(low | high << 32)
