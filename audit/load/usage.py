"""What one song uses of each resource, at one bound of a machine's numbers."""

from __future__ import annotations

from dataclasses import dataclass

from audit.load import cpu, disk, memory
from audit.load.costs import CODECS, MIX, RESAMPLE
from audit.load.demand import EngineSetup, SongLoad, StemLoad
from audit.load.profile import Numbers


@dataclass(frozen=True, slots=True, kw_only=True)
class Usage:
    """Shares of one core, or of the disk's time; seconds; bytes."""

    callback: float
    callback_stacked: float  # with every instrument on the callback's own core
    decode: float
    disk: float
    disk_careful: float  # with the spread of single reads: share of the stems that are safe, at `disk_limit`
    refill: float
    waking_s: float
    work_s: float  # of one callback: a real audio thread may wake up as if at once
    memory_bytes: float
    opening_s: float


def callback_work_s(song: SongLoad, numbers: Numbers, setup: EngineSetup) -> float:
    """Work of one callback, instruments aside."""
    return cpu.callback_s(
        voices=len(song.stems),
        samples=song.channels * setup.frames,
        base_s=numbers.base_s,
        per_voice_s=numbers.per_voice_s,
        per_sample_s=numbers.sample_s(MIX),
    )


def decode_share(song: SongLoad, numbers: Numbers, setup: EngineSetup) -> float:
    """Decoding and resampling per second of audio, in seconds of one core; not throttled."""
    return sum(_stem_work(stem, numbers, setup) for stem in song.stems)


def _stem_work(stem: StemLoad, numbers: Numbers, setup: EngineSetup) -> float:
    per_sample_s = numbers.sample_s(stem.codec)
    if stem.rate_hz != setup.rate_hz:
        per_sample_s += numbers.sample_s(RESAMPLE)
    return stem.samples_per_s * per_sample_s


def usage_of(song: SongLoad, numbers: Numbers, setup: EngineSetup, *, disk_limit: float) -> Usage:
    """What the song uses of a machine with these numbers.

    Two threads: the callback's, and the refills'. On more than one core each has its own; instruments are
    dealt out over the cores that the refills leave, and once all on the callback's core, as whether a program
    spreads them is not known. disk_limit: up to where the disk may be used.
    """
    work_s = callback_work_s(song, numbers, setup)
    mixing = work_s / setup.period_s / numbers.throttle
    instruments = [each.cores / numbers.speed / numbers.throttle for each in song.instruments]
    decoding = decode_share(song, numbers, setup) / numbers.throttle
    alone = numbers.cores == 1
    hands = min(setup.refill_threads, max(1, numbers.cores - 1))
    rates = [stem.bytes_per_s for stem in song.stems]
    reading = disk.utilisation(rates, numbers.latency_s, numbers.bytes_per_s, setup.refill_s)
    decode = decoding / hands
    if alone:
        decode = _beside_callback(decoding, mixing + sum(instruments), setup)
    return Usage(
        callback=cpu.busiest_core([mixing, *instruments], max(1, numbers.cores - 1)),
        callback_stacked=mixing + sum(instruments),
        decode=decode,
        disk=reading,
        disk_careful=_careful(rates, numbers, setup, disk_limit),
        refill=(reading + decoding) / setup.refill_threads,
        waking_s=cpu.callback_response_s(0.0, numbers.lateness_s, work_s / numbers.throttle),
        work_s=work_s / numbers.throttle,
        memory_bytes=memory.PROGRAM_BYTES
        + sum(each.memory_bytes for each in song.instruments)
        + memory.streamed_bytes(
            channels=song.channels,
            rate_hz=setup.rate_hz,
            depth_s=setup.prebuffer_s,
            bytes_per_s=sum(rates),
            refill_audio_s=setup.refill_s,
            stems=len(song.stems),
        ),
        opening_s=sum(_opening_s(stem, numbers, setup) for stem in song.stems),
    )


def _beside_callback(decoding: float, interrupting: float, setup: EngineSetup) -> float:
    """Share of the refill's time that it takes on a lone core, with the callback in between."""
    response_s = cpu.refill_response_s(
        decoding * setup.refill_s, setup.period_s, interrupting * setup.period_s, setup.refill_s
    )
    together = decoding + interrupting
    # A refill that is never done in time takes more than all there is, however little more.
    return max(together, 1.0 + 1e-9) if response_s is None else max(together, response_s / setup.refill_s)


def _careful(rates: list[float], numbers: Numbers, setup: EngineSetup, disk_limit: float) -> float:
    """`disk_limit` times the stems over those that are safe where reads differ, one of them kept back."""
    if not rates:
        return 0.0
    mean_bytes = setup.refill_s * sum(rates) / len(rates)
    mean_s = disk.refill_s(numbers.latency_s, mean_bytes, numbers.bytes_per_s)
    safe = disk.stems_with_margin(mean_s, numbers.latency_sd_s, setup.refill_s, disk.CAREFUL_Z)
    return disk_limit * len(rates) / max(safe - 1.0, 0.5)


def _opening_s(stem: StemLoad, numbers: Numbers, setup: EngineSetup) -> float:
    return memory.opening_s(
        lookups=numbers.lookups,
        latency_s=numbers.latency_s,
        first_bytes=stem.bytes_per_s * setup.refill_s,
        bytes_per_s=numbers.bytes_per_s,
        parse_s=CODECS[stem.codec].parse_s / numbers.speed,
        decode_s=_stem_work(stem, numbers, setup) * setup.refill_s,
    )
