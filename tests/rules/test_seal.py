"""What has happened since the show was sealed: said once, as what it is."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence
from audit.results import AudioChange, ChangeKind, DeltaState, SealCheck, StemDelta
from audit.rules.seal_words import change_in_words, changes_in_words
from tests.evidence import show, song
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted

WHEN = "2026-05-01T18:00:00+00:00"
LOUDER = AudioChange(kind=ChangeKind.GAIN, value=1.2, unit="dB")
LATER = AudioChange(kind=ChangeKind.SHIFT, value=9.1875, unit="ms", frames=441)
NOTES = AudioChange(kind=ChangeKind.METADATA)


def delta(
    state: DeltaState,
    *changes: AudioChange,
    stem: str = "Bass.wav",
    was: str | None = None,
    audio: bool = True,
    **more: str | None,
) -> StemDelta:
    return StemDelta(
        state=state, path=f"Night Ferry/{stem}", song="Night Ferry", stem=stem, was=was, changes=changes,
        audio_differs=audio, **more,
    )  # fmt: skip


def sealed(
    *deltas: StemDelta,
    songs_moved: tuple[tuple[str, str], ...] = (),
    songs_gone: tuple[tuple[str, int], ...] = (),
) -> ShowEvidence:
    """A show with what has happened since its seal."""
    seal = SealCheck(sealed_at=WHEN, stems=12, deltas=deltas, songs_moved=songs_moved, songs_gone=songs_gone)
    return replace(show(song("Night Ferry"), song("Tin Roof")), seal=seal)


UNTOUCHED = (
    clean("a show as it was sealed", sealed()),
    clean("a show without a seal", show(song("Night Ferry"))),
)

CHANGED, DECAYED, MISSING, NEW, MOVED = DeltaState

CASES: dict[str, tuple[Case, ...]] = {
    "changed-since-seal": (
        *UNTOUCHED,
        planted("louder", sealed(delta(CHANGED, LOUDER)),
                Expected(stem="Bass.wav", songs=("Night Ferry",),
                         says=("not as it was sealed", "louder by 1.2 dB"))),
        planted("two changes", sealed(delta(CHANGED, LOUDER, LATER)),
                Expected(stem="Bass.wav", says=("louder by 1.2 dB; later by 441 samples (9.2 ms)",))),
        planted("coded under another name",
                sealed(delta(CHANGED, AudioChange(kind=ChangeKind.CODED, was="WAV, 24-bit", now="MP3"),
                             stem="Bass.mp3", was="Night Ferry/Bass.wav")),
                Expected(severity="error", stem="Bass.mp3",
                         says=("was Night Ferry/Bass.wav", "now MP3, which is lossy"))),
        planted("by a scan that cannot tell how", sealed(delta(CHANGED)),
                Expected(stem="Bass.wav", says=("other audio (`stemaudit verify`",))),
        planted("broken off",
                sealed(delta(CHANGED, AudioChange(kind=ChangeKind.BROKEN_OFF, from_s=8.0, to_s=16.0))),
                Expected(stem="Bass.wav", says=("broken off at 0:08.000 of 0:16.000",),
                         advises=("Copy it again",))),
        planted("a few samples in a renamed folder",
                sealed(delta(CHANGED, *(AudioChange(kind=ChangeKind.SAMPLE, from_s=s) for s in (2.0, 3.0)),
                             was="Ferry/Bass.wav")),
                Expected(stem="Bass.wav", says=("was Ferry/Bass.wav", "2 samples differ at"),
                         advises=("Copy it again",))),
        planted("samples and louder",
                sealed(delta(CHANGED, LOUDER, AudioChange(kind=ChangeKind.SAMPLE, from_s=2.0))),
                Expected(stem="Bass.wav", advises=("If this is the bounce you want",))),
        clean("only decayed", sealed(delta(DECAYED, LOUDER))),
        at_limit("nothing but a new stem", sealed(delta(NEW))),
        past_limit("nothing but metadata", sealed(delta(CHANGED, NOTES, audio=False)),
                   Expected(severity="note", stem="Bass.wav", says=("only metadata",), advises=("Nothing",))),
    ),
    "decayed-since-seal": (
        *UNTOUCHED,
        planted("in the audio",
                sealed(delta(DECAYED, AudioChange(kind=ChangeKind.DIFFERS, from_s=8.0, to_s=8.25))),
                Expected(stem="Bass.wav", at_s=8.0, says=("same size and time", "from 0:08.000 to 0:08.250"),
                         advises=("do not trust this disk",))),
        planted("past decoding",
                sealed(delta(DECAYED, AudioChange(kind=ChangeKind.UNREADABLE, now="no audio chunk"))),
                Expected(stem="Bass.wav", says=("can no longer be decoded: no audio chunk",))),
        planted("one sample",
                sealed(delta(DECAYED, AudioChange(kind=ChangeKind.SAMPLE, from_s=2.0, frames=96000))),
                Expected(stem="Bass.wav", at_s=2.0, says=("1 sample differs at 0:02.000",),
                         advises=("do not trust this disk",))),
        planted("turned up by a program that kept the time", sealed(delta(DECAYED, LOUDER)),
                Expected(stem="Bass.wav", says=("louder by 1.2 dB",), advises=("A disk hardly does that",))),
        clean("saved anew", sealed(delta(CHANGED, LOUDER))),
        at_limit("nothing but a missing stem", sealed(delta(MISSING))),
        past_limit("outside the audio", sealed(delta(DECAYED, NOTES, audio=False)),
                   Expected(severity="note", stem="Bass.wav")),
    ),
    "missing-since-seal": (
        *UNTOUCHED,
        planted("gone", sealed(delta(MISSING)), Expected(stem="Bass.wav", songs=("Night Ferry",))),
        planted("renamed", sealed(delta(MOVED, stem="Bass 2.wav", was="Night Ferry/Bass.wav", audio=False)),
                Expected(severity="warning", stem="Bass 2.wav", says=("was Night Ferry/Bass.wav",))),
        planted("renamed and stored otherwise",
                sealed(delta(MOVED, AudioChange(kind=ChangeKind.STORED, was="WAV, 24-bit", now="FLAC"),
                             stem="Bass.flac", was="Night Ferry/Bass.wav", audio=False)),
                Expected(severity="warning", stem="Bass.flac", says=("was Night Ferry/Bass.wav", "FLAC"))),
        planted("in another song",
                sealed(delta(MOVED, stem="Keys 2.wav", was="Tin Roof/Keys.wav", was_song="Tin Roof",
                             audio=False)),
                Expected(severity="error", stem="Keys.wav", songs=("Tin Roof",),
                         says=("no longer in this song", "Night Ferry/Keys 2.wav"),
                         advises=("Move it back",))),
        planted("a whole song gone, and a stem of another",
                sealed(delta(MISSING), songs_gone=(("Opener", 2),)),
                Expected(severity="error", stem="Bass.wav", songs=("Night Ferry",)),
                Expected(severity="error", stem=None, songs=("Opener",), says=("with 2 stems",))),
        planted("a song's folder renamed, two stems in it",
                sealed(delta(MOVED, was="Ferry/Bass.wav"),
                       delta(MOVED, stem="Keys.wav", was="Ferry/Keys.wav"),
                       songs_moved=(("Ferry", "Night Ferry"),)),
                Expected(severity="warning", songs=("Night Ferry",), stem=None, says=("was called Ferry",),
                         advises=("The audio is the same",))),
        planted("another number only",
                sealed(delta(MOVED, was="07 - night ferry/Bass.wav"),
                       songs_moved=(("07 - night ferry", "Night Ferry"),)),
                Expected(severity="note", songs=("Night Ferry",), says=("was called 07 - night ferry",))),
        planted("another number, and the stems too under another name",
                sealed(delta(MOVED, stem="Low.wav", was="07 - Night Ferry/Bass.wav"),
                       delta(MOVED, stem="Piano.wav", was="07 - Night Ferry/Keys.wav"),
                       songs_moved=(("07 - Night Ferry", "Night Ferry"),)),
                Expected(severity="warning", songs=("Night Ferry",),
                         says=("2 stems under another name, the first: Low.wav, was Bass.wav",))),
        planted("renamed, and one of its stems dropped into another song",
                sealed(delta(MOVED, was="Ferry/Bass.wav"),
                       delta(MOVED, stem="Keys.wav", was="Ferry/Keys.wav", was_song="Ferry"),
                       songs_moved=(("Ferry", "Night Ferry"),)),
                Expected(severity="error", stem="Keys.wav", songs=("Ferry",), says=("no longer in this",)),
                Expected(severity="warning", songs=("Night Ferry",), says=("was called Ferry",))),
        clean("changed", sealed(delta(CHANGED, LOUDER))),
        at_limit("new", sealed(delta(NEW))),
        past_limit("one of two gone", sealed(delta(NEW), delta(MISSING, stem="Pad.wav")),
                   Expected(stem="Pad.wav")),
    ),
    "new-since-seal": (
        *UNTOUCHED,
        planted("one", sealed(delta(NEW)), Expected(stem="Bass.wav", songs=("Night Ferry",))),
        planted("two", sealed(delta(NEW), delta(NEW, stem="Pad.wav")), Expected(stem="Bass.wav"),
                Expected(stem="Pad.wav")),
        planted("a copy of a sealed one", sealed(delta(NEW, same_as="Tin Roof/Keys.wav")),
                Expected(severity="note", stem="Bass.wav", says=("the same audio as Tin Roof/Keys.wav",))),
        clean("renamed", sealed(delta(MOVED, was="Night Ferry/Low.wav", audio=False))),
        at_limit("missing", sealed(delta(MISSING))),
        past_limit("beside a missing one", sealed(delta(MISSING), delta(NEW, stem="Pad.wav")),
                   Expected(stem="Pad.wav")),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (LOUDER, "louder by 1.2 dB"),
        (AudioChange(kind=ChangeKind.GAIN, value=-0.05), "quieter by 0.05 dB"),
        (AudioChange(kind=ChangeKind.SHIFT, value=-0.02, frames=-1), "earlier by 1 sample (0.0 ms)"),
        (AudioChange(kind=ChangeKind.LENGTH, value=4.0, frames=192000, bars=2, from_s=72.0),
         "longer by 2 bars (4.000 s), put in at 1:12.000"),
        (AudioChange(kind=ChangeKind.LENGTH, value=-2.0, frames=-96000, bars=-1),
         "shorter by 1 bar (2.000 s) at its end"),
        (AudioChange(kind=ChangeKind.LENGTH, value=2e-5, frames=1), "longer by 1 sample at its end"),
        (AudioChange(kind=ChangeKind.EDITED, from_s=72.0, to_s=80.0), "edited from 1:12.000 to 1:20.000"),
        (AudioChange(kind=ChangeKind.LENGTH, value=-6.0, frames=-288000, bars=-3, from_s=4.0, to_s=40.0),
         "shorter by 3 bars (6.000 s), taken out somewhere from 0:04.000 to 0:40.000"),
        (AudioChange(kind=ChangeKind.RIDDEN, value=-12.0, from_s=72.0, to_s=80.0),
         "quieter by up to 12.0 dB from 1:12.000 to 1:20.000"),
        (AudioChange(kind=ChangeKind.OTHER, now="A/Keys.wav"), "holds what was A/Keys.wav"),
    ],
)  # fmt: skip
def test_words(change: AudioChange, words: str):
    assert change_in_words(change) == words


def test_every_kind_has_words():
    for kind in ChangeKind:
        words = change_in_words(
            AudioChange(kind=kind, was="WAV, 24-bit", now="FLAC, 24-bit", from_s=1.0, to_s=2.0)
        )
        assert words
        assert "None" not in words


def test_many_edits_are_counted():
    edits = [AudioChange(kind=ChangeKind.EDITED, from_s=float(n), to_s=n + 0.5) for n in range(6)]
    assert changes_in_words(edits).endswith("from 0:02.000 to 0:02.500 and 3 more places")
