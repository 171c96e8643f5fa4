"""What is found again of copies and of swapped stems, by the hundred: `python -m tests.identity_lab`.

Copies: every stem of the corpus, of the demo's songs and of songs built from a seed, stored otherwise, turned
down, moved; then second takes of the same parts and every pair of different stems, which are no copies.
Swaps: two stems of a song exchanged, every pair of roles that five songs and more have.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
import soundfile

from audit.decode.header import read_header
from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.measure.activity import ActivityMeter
from audit.measure.chroma import ChromaMeter
from audit.measure.content import ContentMeter
from audit.measure.fingerprint import FingerprintMeter
from audit.measure.onsets import OnsetMeter
from audit.measure.steps import StepSums
from audit.measure.stereo import StereoMeter
from audit.pipeline.songs.same_recording import with_copies
from audit.rules.profile import voices_of
from tests.evidence import findings, show, song, stem
from tests.lab.kind import wilson
from tests.lab.songs import LabShow, LabSong, LabStem, corpus, demo, long_show, ordinary
from tests.shared import shared_folder

Samples = np.ndarray
BLOCK = 65536


def moved(frames: int) -> Callable[[Samples], Samples]:
    return lambda samples: np.concatenate([np.zeros((frames, samples.shape[1])), samples])[: len(samples)]


COPIES: dict[str, tuple[Callable[[Samples], Samples], str, dict[str, str]]] = {
    "16 bit": (lambda samples: samples, "wav", {"subtype": "PCM_16"}),
    "−6 dB, 24 bit": (lambda samples: 0.501 * samples, "wav", {"subtype": "PCM_24"}),
    "+2 dB, float": (lambda samples: 1.26 * samples, "wav", {"subtype": "FLOAT"}),
    "−12 dB, 16 bit FLAC": (lambda samples: 0.251 * samples, "flac", {"subtype": "PCM_16"}),
    "upside down": (lambda samples: -samples, "wav", {"subtype": "PCM_24"}),
    "10 ms later": (moved(480), "wav", {"subtype": "PCM_24"}),
    "1 s later": (moved(48_000), "wav", {"subtype": "PCM_24"}),
    "1.05 s later, −6 dB, 16 bit": (lambda s: 0.501 * moved(50_400)(s), "wav", {"subtype": "PCM_16"}),
    "Ogg Vorbis": (lambda samples: samples, "ogg", {"subtype": "VORBIS"}),
}


def written(path: Path, samples: Samples, rate_hz: int, **more: str) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    bounded = samples if more.get("subtype") == "FLOAT" else np.clip(samples, -1.0, 1.0)
    with soundfile.SoundFile(path, "w", rate_hz, samples.shape[1], **more) as file:
        for at in range(0, len(bounded), BLOCK):  # libsndfile's Vorbis encoder takes no large block
            file.write(bounded[at : at + BLOCK])
    return path


def heard(path: Path, role: Role) -> StemEvidence:
    """A stem with its fingerprint, hash, harmony, onsets and sides, as the pipeline measures them; its other
    measures are a healthy stem's."""
    samples, rate_hz = soundfile.read(path, dtype="float32", always_2d=True)
    channels = tuple(range(samples.shape[1]))
    prints: list[FingerprintMeter] = []
    chroma = ChromaMeter(rate_hz, len(channels), also=lambda channel, power: prints[0].add(channel, power))
    prints.append(FingerprintMeter(len(channels), chroma.bin_hz))
    sums = StepSums(rate_hz, len(channels))
    activity = ActivityMeter(rate_hz, len(channels), sums=sums)
    stereo = StereoMeter(rate_hz, len(channels), sums=sums)
    content, onsets = ContentMeter(rate_hz, len(channels)), OnsetMeter(rate_hz, len(channels))
    for at in range(0, len(samples), BLOCK):
        for meter in (sums, activity, chroma, content, onsets):
            meter.add(samples[at : at + BLOCK])
    made = stem(
        path.name, role=role, rate_hz=rate_hz, channels=len(channels), frames=len(samples),
        audio={"content_hash": content.result()},
    )  # fmt: skip
    measures = replace(
        made.parts[0].measures, activity=activity.result(channels), stereo=stereo.result(channels),
        chroma=chroma.result(channels), onsets=onsets.result(channels),
        fingerprint=prints[0].result(channels, chroma.hop_s),
    )  # fmt: skip
    return replace(
        made, parts=(replace(made.parts[0], measures=measures),),
        stem=replace(made.stem, path=path, size_bytes=path.stat().st_size),
        format=read_header(path, size_bytes=path.stat().st_size).format,
    )  # fmt: skip


def on_disk(lab: LabShow, folder: Path) -> list[tuple[LabSong, SongEvidence]]:
    """A lab show as files, heard."""
    found = []
    for one in lab.songs:
        stems = [
            heard(written(folder / one.name / f"{s.name.rpartition('.')[0]}.wav", s.samples, one.rate_hz,
                          subtype="PCM_24"), s.role)
            for s in one.stems
        ]  # fmt: skip
        found.append((one, of(one.name, *stems)))
    return found


def of(name: str, *stems: StemEvidence) -> SongEvidence:
    """A song whose stems keep the files they were read from."""
    made = song(name, *stems)
    return replace(made, stems=stems)


def another_take(lab: LabSong, one: LabStem) -> Samples | None:
    """The same notes played again, by a player whose hand is a few milliseconds off elsewhere."""
    from audit.demo.band import PLAYERS, perform
    from audit.demo.setlist import SET_LIST

    entry = next((entry for entry in SET_LIST if entry.song.title == lab.name), None)
    if entry is None:
        return None
    return perform(replace(entry.song, seed=entry.song.seed + 77), PLAYERS[one.role], lab.rate_hz).samples


def copies(shows: Sequence[LabShow], folder: Path, most: int | None) -> Iterator[str]:
    for lab in shows:
        cells: dict[tuple[str, str], list[int]] = {}
        takes = [0, 0]
        yield f"{lab.name}:"
        songs = on_disk(lab, folder / lab.name)
        clean = with_copies(show(*(evidence for _, evidence in songs)))
        told = findings("duplicate-audio", clean)
        count = sum(len(evidence.stems) for _, evidence in songs)
        pairs = count * (count - 1) // 2
        false = [f"{lab.name}: {finding.songs} {finding.stem}: {finding.message}" for finding in told]
        for number, (one, evidence) in enumerate(songs):
            other = songs[(number + 1) % len(songs)][1]
            for source, lab_stem in list(zip(evidence.stems, one.stems, strict=True))[:most]:
                for kind, (change, extension, more) in COPIES.items():
                    target = folder / "copy" / f"Unnamed.{extension}"
                    copy = heard(written(target, change(lab_stem.samples), one.rate_hz, **more), Role.OTHER)
                    for where in ("same song", "another song"):
                        cell = cells.setdefault((kind, where), [0, 0])
                        cell[1] += 1
                        cell[0] += found(evidence, source, other, copy, where)
                take = another_take(one, lab_stem)
                if take is not None and np.any(take) and not np.array_equal(take, lab_stem.samples):
                    target = folder / "copy" / "Unnamed.wav"
                    copy = heard(written(target, take, one.rate_hz, subtype="PCM_24"), Role.OTHER)
                    takes[1] += 1
                    takes[0] += found(evidence, source, other, copy, "same song")
        for (kind, where), (hits, planted) in cells.items():
            yield f"{kind:30}{where:14}{line(hits, planted)}"
        yield f"{'second takes called copies':44}{line(*takes)}"
        yield f"{'clean pairs called copies':44}{line(len(false), pairs)}"
        yield from false


def swaps(shows: Sequence[LabShow], folder: Path) -> Iterator[str]:
    """Every pair of roles that five songs have, exchanged in each of them."""
    cells: dict[tuple[str, str], list[int]] = {}
    others = 0
    false: list[str] = []
    for lab in shows:
        songs = [evidence for _, evidence in on_disk(lab, folder / lab.name)]
        clean = findings("swapped-stems", show(*songs))
        false += [f"{lab.name}: {finding.songs}: {finding.message}" for finding in clean]
        by_song = {
            name: {voice.role: voice for voice in found if voice.leads}
            for name, found in voices_of(show(*songs)).items()
        }
        roles = list(dict.fromkeys(role for found in by_song.values() for role in found))
        for first, second in combinations(roles, 2):
            both = [one for one in songs if {first, second} <= set(by_song[one.name])]
            if len(both) < 5:
                continue
            for one in both:
                pair = by_song[one.name][first].stem, by_song[one.name][second].stem
                planted = show(*(exchanged(one, *pair) if each is one else each for each in songs))
                told = findings("swapped-stems", planted)
                hits = [f for f in told if {f.stem, f.measured["second"]} == {stem.name for stem in pair}]
                cell = cells.setdefault((first.value, second.value), [0, 0])
                cell[0] += bool(hits)
                cell[1] += 1
                others += len(told) - len(hits)
    for (one_role, other_role), (hits_found, planted_count) in cells.items():
        yield f"{one_role + ' and ' + other_role:44}{line(hits_found, planted_count)}"
    yield f"{'all':44}{line(*(sum(cell[n] for cell in cells.values()) for n in (0, 1)))}"
    yield f"others blamed: {others}; clean shows: {len(false)} false alarms"
    yield from false


def exchanged(one: SongEvidence, first: StemEvidence, second: StemEvidence) -> SongEvidence:
    """The song with the audio of two stems exchanged, their names left as they were."""

    def with_audio(stem: StemEvidence, other: StemEvidence) -> StemEvidence:
        return replace(stem, parts=(replace(other.parts[0], role=stem.parts[0].role),), audio=other.audio)

    changed = {first.name: with_audio(first, second), second.name: with_audio(second, first)}
    return replace(one, stems=tuple(changed.get(stem.name, stem) for stem in one.stems))


def found(
    one: SongEvidence, source: StemEvidence, other: SongEvidence, copy: StemEvidence, where: str
) -> bool:
    if where == "same song":
        whole = show(of(one.name, source, copy))
    else:
        whole = show(of(one.name, source), of(other.name, copy))
    return any(f.rule == "duplicate-audio" for f in findings("duplicate-audio", with_copies(whole)))


def line(hits: int, planted: int) -> str:
    low, high = wilson(hits, planted)
    return f"{hits:5}/{planted:<5} {100 * hits / max(1, planted):5.1f} % [{100 * low:.0f}–{100 * high:.0f}]"


SHOWS: dict[str, Callable[[int, Path], LabShow]] = {
    "corpus": lambda seed, folder: corpus(shared_folder("corpus")),
    "demo": lambda seed, folder: demo(),
    "long": lambda seed, folder: long_show(seed, songs=6, seconds=60.0),
    "ordinary": lambda seed, folder: ordinary(folder / "ordinary"),
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.identity_lab", description=__doc__)
    parser.add_argument("what", nargs="*", default=["copies", "swaps"], help="copies, swaps; both by default")
    parser.add_argument("--seed", type=int, default=11, help="of the built songs (tuned on: 11)")
    parser.add_argument("--show", action="append", choices=list(SHOWS), help="only these; all by default")
    parser.add_argument("--most", type=int, default=None, help="stems a song, of which copies are made")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        shows = [SHOWS[name](arguments.seed, folder) for name in arguments.show or SHOWS]
        for what in arguments.what:
            print(f"{what} (seed {arguments.seed}; {', '.join(lab.name for lab in shows)})", flush=True)
            here = folder / what
            table = copies(shows, here, arguments.most) if what == "copies" else swaps(shows, here)
            for words in table:
                print(f"  {words}", flush=True)


if __name__ == "__main__":
    main()
