"""libltc, the reference encoder and decoder of timecode, through ctypes: frames as text with their places.

Layouts from its public header ltc.h, version 1.3: LTCFrameExt is the frame (80 bits, padded), two 64-bit
offsets, an int that is true for reversed code; SMPTETimecode is a six-byte time zone, then years, months,
days, hours, minutes, seconds, frame, a byte each.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from dataclasses import dataclass

import numpy as np
import pytest

from tests.waves import Samples


@dataclass(frozen=True, kw_only=True)
class ReadFrame:
    text: str
    start: int  # offset of the first sample
    end: int
    reversed: bool


def load() -> ctypes.CDLL:
    """The library; skips the test where it is not installed."""
    for name in ("libltc.so.11", ctypes.util.find_library("ltc")):
        try:
            library = ctypes.CDLL(name) if name else None
        except OSError:
            continue
        if library is not None:
            break
    else:
        pytest.skip("libltc is not installed: the reference decoder cannot be asked")
    library.ltc_decoder_create.restype = ctypes.c_void_p
    library.ltc_decoder_create.argtypes = [ctypes.c_int, ctypes.c_int]
    library.ltc_decoder_free.argtypes = [ctypes.c_void_p]
    library.ltc_decoder_write_float.argtypes = [
        ctypes.c_void_p, ctypes.c_void_p, ctypes.c_size_t, ctypes.c_longlong,
    ]  # fmt: skip
    library.ltc_decoder_read.argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    library.ltc_frame_to_time.argtypes = [ctypes.c_void_p, ctypes.c_void_p, ctypes.c_int]
    library.ltc_encoder_create.restype = ctypes.c_void_p
    library.ltc_encoder_create.argtypes = [ctypes.c_double, ctypes.c_double, ctypes.c_int, ctypes.c_int]
    library.ltc_encoder_set_user_bits.argtypes = [ctypes.c_void_p, ctypes.c_ulong]
    for name in ("free", "encode_frame", "inc_timecode"):
        getattr(library, f"ltc_encoder_{name}").argtypes = [ctypes.c_void_p]
    for name in ("set_timecode", "get_frame", "set_frame", "copy_buffer"):
        getattr(library, f"ltc_encoder_{name}").argtypes = [ctypes.c_void_p, ctypes.c_void_p]
    library.ltc_frame_set_parity.argtypes = [ctypes.c_void_p, ctypes.c_int]
    return library


@dataclass(frozen=True, kw_only=True)
class Written:
    """What libltc's encoder wrote: float32 samples (frames,), and of every timecode frame its place."""

    samples: np.ndarray
    starts: tuple[int, ...]
    words: tuple[bytes, ...]  # ten bytes, least significant bit first


def encode(
    start: tuple[int, int, int, int], frames: int, *, rate_hz: int, fps: float, drop: bool, user: int = 0
) -> Written:
    """Timecode by libltc (8 bits inside, −3 dBFS). It sets the drop-frame flag for every 29.97: where that is
    not wanted the flag is cleared, and the parity set, by hand."""
    library = load()
    standard = 1 if round(fps) == 25 else (3 if round(fps) == 24 else 0)
    encoder = library.ltc_encoder_create(rate_hz, fps, standard, 0)
    clock = ctypes.create_string_buffer(bytes(9) + bytes(start), 13)
    word, buffer = ctypes.create_string_buffer(16), ctypes.create_string_buffer(rate_hz)
    pieces, starts, words, place = [], [], [], 0
    try:
        library.ltc_encoder_set_timecode(encoder, clock)
        library.ltc_encoder_set_user_bits(encoder, user)
        for _ in range(frames):
            library.ltc_encoder_get_frame(encoder, word)
            flags = word.raw[1]
            word[1] = bytes([flags | 4 if drop else flags & ~4])
            library.ltc_frame_set_parity(word, standard)
            library.ltc_encoder_set_frame(encoder, word)
            words.append(word.raw[:10])
            library.ltc_encoder_encode_frame(encoder)
            size = library.ltc_encoder_copy_buffer(encoder, buffer)
            starts.append(place)
            place += size
            pieces.append(np.frombuffer(buffer.raw[:size], dtype=np.uint8))
            library.ltc_encoder_inc_timecode(encoder)
    finally:
        library.ltc_encoder_free(encoder)
    samples = (np.concatenate(pieces).astype(np.float32) - 128.0) / 128.0
    return Written(samples=samples, starts=tuple(starts), words=tuple(words))


def decode(samples: Samples, *, frame_samples: int) -> list[ReadFrame]:
    """Every frame libltc finds in mono samples. frame_samples: length of a frame, as a first guess."""
    library = load()
    decoder = library.ltc_decoder_create(frame_samples, 1024)
    wave = np.ascontiguousarray(samples[:, 0], dtype=np.float32)
    frame, clock = ctypes.create_string_buffer(1024), ctypes.create_string_buffer(64)
    found = []
    try:
        for start in range(0, len(wave), 1024):
            piece = np.ascontiguousarray(wave[start : start + 1024])
            library.ltc_decoder_write_float(decoder, piece.ctypes.data, len(piece), start)
            while library.ltc_decoder_read(decoder, frame):
                library.ltc_frame_to_time(clock, frame, 0)
                hours, minutes, seconds, number = clock.raw[9:13]
                drop = frame.raw[1] >> 2 & 1
                begin, end = np.frombuffer(frame.raw[16:32], dtype=np.int64).tolist()
                found.append(
                    ReadFrame(
                        text=f"{hours:02d}:{minutes:02d}:{seconds:02d}{';' if drop else ':'}{number:02d}",
                        start=begin,
                        end=end,
                        reversed=bool(np.frombuffer(frame.raw[32:36], dtype=np.int32)[0]),
                    )
                )
    finally:
        library.ltc_decoder_free(decoder)
    return found
