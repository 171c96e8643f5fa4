"""The demo: writes an invented touring show with planted faults from many families, and names every one."""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from audit.demo import faults
from audit.demo.recording import Recording, Session, record, timecode_track, write_recording
from audit.demo.setlist import ACT, DATES, SET_LIST, TOUR, SetListEntry
from audit.demo.sound import frames_of
from audit.errors import OutputError, UsageError
from audit.facts import Role
from audit.timecode import Label

MARKER = ".stemaudit-demo"
UNDER_WAY = ".stemaudit-demo-under-way"
README = "About this folder.txt"


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """One fault of the demo: where, which rule finds it, what was done."""

    song: str
    stem: str | None
    rule: str
    what: str


def _other_rate(session: Session) -> None:
    take = session.played(Role.KEYS, 44_100)
    session.recordings["Keys.wav"] = Recording(samples=take, role=Role.KEYS, rate_hz=44_100)


def _dc(session: Session) -> None:
    bass = session.recordings["Bass.wav"]
    bass.samples = faults.with_dc(bass.samples, 0.008)


def _timecode_from_two_takes(session: Session) -> None:
    code = session.recordings["Timecode.wav"]
    hour = next(n for n, entry in enumerate(SET_LIST, start=1) if entry.title == session.song.title)
    ten_seconds_on = timecode_track(session.song, code.rate_hz, Label(hour, 0, 10))
    code.samples = faults.punched_in(code.samples, ten_seconds_on, frames_of(17.0, code.rate_hz))


def _interrupted_copy(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.cut_short(folder / "Strings.wav", 0.61))


def _silent_click(session: Session) -> None:
    click = session.recordings["Click.wav"]
    click.samples = faults.silenced(click.samples)


def _clipped_guitar(session: Session) -> None:
    guitar = session.recordings["Guitar.wav"]
    guitar.samples = faults.clipped(guitar.samples, over_db=1.0)
    guitar.dithered = False


def _no_timecode(session: Session) -> None:
    assert "Timecode.wav" not in session.recordings


def _opposed_synth(session: Session) -> None:
    synth = session.recordings["Synth.wav"]
    synth.samples = faults.opposed(synth.samples)


def _sixteen_bit(session: Session) -> None:
    session.recordings["Percussion.wav"].bits = 16


def _session_file(session: Session) -> None:
    text = "Bounce list for Lantern Tax: synth again, percussion again (somebody had the wrong preset).\n"
    session.afterwards.append(_leaver("bounce list.txt", text.encode()))


def _ends_early(session: Session) -> None:
    guitar = session.recordings["Guitar.wav"]
    song = session.song
    bars_s = 4 * song.metre.beats * 60.0 / song.bpm
    guitar.samples = faults.ended_early(guitar.samples, frames_of(bars_s + song.ring_s, guitar.rate_hz))


def _click_with_a_hole(session: Session) -> None:
    click = session.recordings["Click.wav"]
    beat = session.song.grid.frame(5 * session.song.metre.beats + 2, click.rate_hz)
    click.samples = faults.muted(click.samples, beat - 100, frames_of(0.1, click.rate_hz))


def _keys_as_pad(session: Session) -> None:
    keys = session.recordings["Keys.wav"]
    session.recordings["Pad.wav"] = Recording(samples=keys.samples, role=Role.PAD, dither_seed="Keys.wav")


def _crashed_recorder(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.left_unfinished(folder / "Backing Vocals.wav"))


def _second_version(session: Session) -> None:
    take = session.played(Role.LEAD_VOCAL, 48_000, seed=2)
    session.recordings["Lead Vocal v2.wav"] = Recording(samples=take, role=Role.LEAD_VOCAL)


def _rotten_flac(session: Session) -> None:
    session.afterwards.append(lambda folder: faults.decayed(folder / "Organ.flac", 0.6))


def _litter(session: Session) -> None:
    for name, content in (
        (".DS_Store", b"\0\0\0\1Bud1" + bytes(56)),
        ("._Bass.wav", b"\0\5\26\7" + bytes(78)),
    ):
        session.afterwards.append(_leaver(name, content))


def _leaver(name: str, content: bytes) -> Callable[[Path], None]:
    def leave(folder: Path) -> None:
        (folder / name).write_bytes(content)

    return leave


_PLANS: tuple[tuple[Planted, Callable[[Session], None]], ...] = (
    (
        Planted(song="Tin Roof Almanac", stem="Keys.wav", rule="sample-rate-mismatch",
                what="bounced at 44.1 kHz, the show runs at 48 kHz"),
        _other_rate,
    ),
    (
        Planted(song="Tin Roof Almanac", stem="Bass.wav", rule="dc-offset",
                what="the whole stem sits 0.8 % above zero"),
        _dc,
    ),
    (
        Planted(song="Tin Roof Almanac", stem="Timecode.wav", rule="timecode-jump",
                what="written in two takes: at 0:17 its numbers skip ten seconds"),
        _timecode_from_two_takes,
    ),
    (
        Planted(song="Gravel Parade", stem="Strings.wav", rule="truncated-file",
                what="the copy was interrupted: the header promises more than is there"),
        _interrupted_copy,
    ),
    (
        Planted(song="Gravel Parade", stem="Click.wav", rule="silent-stem",
                what="the click was muted when it was bounced"),
        _silent_click,
    ),
    (
        Planted(song="Velvet Signal Box", stem="Guitar.wav", rule="sample-clipping",
                what="turned up too far and cut off at full scale"),
        _clipped_guitar,
    ),
    (
        Planted(song="Velvet Signal Box", stem=None, rule="missing-role",
                what="no timecode, though every other song has it"),
        _no_timecode,
    ),
    (
        Planted(song="Lantern Tax", stem="Synth.wav", rule="opposite-polarity",
                what="one side upside down: gone in mono"),
        _opposed_synth,
    ),
    (
        Planted(song="Lantern Tax", stem="Percussion.wav", rule="bit-depth-mismatch",
                what="16 bit, the show is 24 bit"),
        _sixteen_bit,
    ),
    (
        Planted(song="Lantern Tax", stem=None, rule="stray-file",
                what="a text somebody left among the stems"),
        _session_file,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Guitar.wav", rule="length-mismatch",
                what="the bounce stopped four bars before the end, still sounding"),
        _ends_early,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Click.wav", rule="click-gap",
                what="the third beat of bar 6 is missing: a muted region"),
        _click_with_a_hole,
    ),
    (
        Planted(song="Second-Hand Comet", stem="Keys.wav", rule="duplicate-audio",
                what="bounced once more under the pad's name"),
        _keys_as_pad,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Backing Vocals.wav", rule="unfinished-header",
                what="the recorder crashed: the header was never completed"),
        _crashed_recorder,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Lead Vocal v2.wav", rule="two-versions",
                what="a second take beside the first; both would play"),
        _second_version,
    ),
    (
        Planted(song="Postcards to the Weather Ship", stem="Organ.flac", rule="damaged-audio",
                what="one byte turned over on the disk"),
        _rotten_flac,
    ),
)  # fmt: skip

PLANTED: tuple[Planted, ...] = tuple(planted for planted, _ in _PLANS)
"""Every fault of the demo. Nothing else is wrong with it."""

CLEAN_SONGS = tuple(
    entry.title for entry in SET_LIST if entry.title not in {planted.song for planted in PLANTED}
)


def write_demo(folder: Path, *, on_song: Callable[[str, int, int], None] | None = None) -> Path:
    """Write the demo show into `folder` and return it.

    on_song: told the title, number (from 1) and count of the songs, as each begins.
    An earlier demo in the folder is replaced as long as nobody changed it; anything else in it is left alone
    and refused with UsageError. OutputError where the folder cannot be written. Nothing half-written stays
    behind when it is interrupted.
    """
    _refuse_foreign_files(folder)
    under_way = folder / UNDER_WAY
    try:
        folder.mkdir(parents=True, exist_ok=True)
        shutil.rmtree(under_way, ignore_errors=True)
        under_way.mkdir()
        try:
            for number, entry in enumerate(SET_LIST, start=1):
                if on_song is not None:
                    on_song(entry.title, number, len(SET_LIST))
                _write_song(under_way / entry.folder, entry, number)
            _write_text(under_way / README, _about())
            sizes = _sizes(under_way)
            _remove_earlier(folder)
            # The list of our files goes first: whatever happens next, the folder is known as ours.
            _write_text(folder / MARKER, json.dumps(sizes, indent=1, ensure_ascii=False) + "\n")
            for made in sorted(under_way.iterdir()):
                os.replace(made, folder / made.name)
        finally:
            shutil.rmtree(under_way, ignore_errors=True)
    except OSError as error:
        raise OutputError(f"cannot write the demo into {folder}: {error.strerror or error}") from error
    return folder


def _write_song(folder: Path, entry: SetListEntry, number: int) -> None:
    folder.mkdir()
    session = record(entry.song, entry.stems, lufs=entry.lufs, timecode_start=Label(number))
    for planted, plant in _PLANS:
        if planted.song == entry.title:
            plant(session)
    if entry.title == CLEAN_SONGS[-1]:
        _litter(session)
    for name, recording in session.recordings.items():
        write_recording(folder / name, recording)
    for step in session.afterwards:
        step(folder)


def _refuse_foreign_files(folder: Path) -> None:
    """UsageError unless the folder is absent, empty, or holds an earlier demo and nothing else."""
    if not folder.exists():
        return
    if not folder.is_dir():
        raise UsageError(f"{folder} is a file; name a folder for the demo")
    ours = _earlier(folder)
    for name, size in _sizes(folder).items():
        if name.startswith(f"{UNDER_WAY}/") or name == MARKER:
            continue
        if ours.get(name) != size:
            raise UsageError(
                f"{folder} holds files that the demo did not write ({name!a}); name an empty folder"
            )


def _earlier(folder: Path) -> dict[str, int]:
    """The files of an earlier demo and their sizes, as its list says; empty without a readable list."""
    try:
        listed = json.loads((folder / MARKER).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    if not isinstance(listed, dict):
        return {}
    # A list may have been tampered with: it never names anything outside the folder.
    return {name: size for name, size in listed.items() if not Path(name).is_absolute() and ".." not in name}


def _remove_earlier(folder: Path) -> None:
    names = _earlier(folder)
    for name in names:
        (folder / name).unlink(missing_ok=True)
    for song in {Path(name).parts[0] for name in names if "/" in name}:
        if (folder / song).is_dir():
            (folder / song).rmdir()


def _sizes(folder: Path) -> dict[str, int]:
    return {
        path.relative_to(folder).as_posix(): path.lstat().st_size
        for path in sorted(folder.rglob("*"))
        if not path.is_dir() or path.is_symlink()
    }


def _about() -> str:
    lines = [
        f"{ACT}: {TOUR}",
        "",
        "An invented act on an invented tour, synthesised by `stemaudit demo`. Dates:",
        *(f"  {town}, {venue}" for town, venue in DATES),
        "",
        "Click, guide and timecode are for in-ears and machines, never for the PA. Start quietly: the level",
        "of a file tells nothing about how loud it is at the ear. Local rules and qualified practice come",
        "first.",
        "",
        "Faults planted in it:",
        *(f"  {p.song}, {p.stem or 'the song'}: {p.what} ({p.rule})" for p in PLANTED),
        "",
        f"Nothing is wrong with: {', '.join(CLEAN_SONGS)}.",
    ]
    return "\n".join(lines) + "\n"


def _write_text(path: Path, text: str) -> None:
    path.write_bytes(text.encode())
