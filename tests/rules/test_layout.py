"""channel-count-mismatch and padded-bit-depth: what a file's samples carry."""

from __future__ import annotations

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from tests.evidence import audit_with, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def channels(*counts: int, file: str = "Bass.wav") -> list[SongEvidence]:
    """One song for each number of channels, with that one stem."""
    return [song(f"Song {n}", stem(file, channels=count)) for n, count in enumerate(counts, start=1)]


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def padded(file: str, bits_in_use: int | None = 16, **more: object) -> StemEvidence:
    return stem(file, audio={"bits_in_use": bits_in_use}, **more)


def split(file: str) -> StemEvidence:
    """Click left, timecode right."""
    return stem(file, parts=[part(Role.CLICK, channels=(0,)), part(Role.TIMECODE, channels=(1,))])


def turned(file: str, bits_in_use: int, peak_dbfs: float, *, distinct_values: int = 4096) -> StemEvidence:
    """16-bit audio after a gain of a power of two."""
    return stem(
        file,
        audio={"bits_in_use": bits_in_use, "distinct_values": distinct_values},
        peaks={"sample_dbfs": peak_dbfs},
    )


CASES: dict[str, tuple[Case, ...]] = {
    "channel-count-mismatch": (
        planted(
            "mono once, stereo elsewhere",
            show(*channels(2, 2, 2, 2, 2, 2, 2, 2, 2, 1)),
            Expected(
                stem="Bass.wav", songs=("Song 10",), value=90.0, says=("mono", "stereo in 90 % of 10 songs")
            ),
        ),
        planted(
            "stereo twice, mono elsewhere",
            show(*channels(1, 1, 1, 1, 1, 1, 1, 1, 2, 2)),
            Expected(stem="Bass.wav", songs=("Song 9",), value=80.0, says=("stereo", "are mono", "80 %")),
            Expected(stem="Bass.wav", songs=("Song 10",)),
        ),
        planted(
            "few songs: a note",
            show(*channels(2, 2, 1)),
            Expected(
                severity="note", stem="Bass.wav", songs=("Song 3",), says=("stereo in all 2 other songs",)
            ),
        ),
        planted(
            "eight channels",
            of(stem("Band.wav", channels=8)),
            Expected(stem="Band.wav", says=("8 channels",)),
        ),
        clean("the role varies", show(*channels(2, 2, 2, 1, 1, 2, 1, 2))),
        clean("few songs that vary", show(*channels(2, 2, 1, 1))),
        clean("two songs that differ", show(*channels(2, 1))),
        clean(
            "mono and stereo roles side by side",
            show(
                *[
                    song(
                        f"Song {n}",
                        stem("Click.wav", channels=1),
                        stem("Bass.wav", channels=1),
                        stem("Keys.wav"),
                        stem("Pad.wav"),
                    )
                    for n in range(12)
                ]
            ),
        ),
        clean("unknown roles", show(*channels(2, 2, 2, 2, 2, 1, file="Wobble.wav"))),
        clean(
            "two mono files that make a pair",
            show(
                *channels(2, 2, 2, 2, 2, 2, file="Keys.wav"),
                song("Odd", stem("Keys L.wav", channels=1), stem("Keys R.wav", channels=1)),
            ),
        ),
        clean(
            "two guitars",
            show(
                *channels(2, 2, 2, 2, 2, file="Guitar.wav"),
                song("Odd", stem("Guitar 1.wav", channels=1), stem("Guitar 2.wav")),
            ),
        ),
        clean(
            "click and timecode as two sides",
            show(*channels(1, 1, 1, 1, 1, 1, file="Click.wav"), song("Odd", split("Click+TC.wav"))),
        ),
        clean(
            "silence printed in mono",
            show(*channels(2, 2, 2, 2, 2), song("Odd", stem("Bass.wav", channels=1, silent=True))),
        ),
        clean(
            "four channels, each with its role",
            of(
                stem(
                    "Crew.wav",
                    channels=4,
                    facts={"channel_roles": (Role.CLICK, Role.GUIDE, Role.TIMECODE, Role.TIMECODE)},
                )
            ),
        ),
        clean(
            "a mono kick where other songs have their drums in stereo",
            show(
                *channels(2, 2, 2, 2, 2, 2, file="Drums.wav"),
                song("Odd", stem("Kick.wav", channels=1, role="drums")),
            ),
        ),
        clean(
            "a guitar in mono beside a second one",
            show(
                *channels(2, 2, 2, 2, 2, 2, file="Guitar.wav"),
                song("Odd", stem("Guitar.wav", channels=1), stem("Guitar 2.wav", channels=1)),
            ),
        ),
        planted(
            "a kick among kicks, though the drums have more stems",
            show(
                *(
                    song(
                        f"Song {n}",
                        stem("Kick.wav", role="drums", channels=2 if n == 3 else 1),
                        stem("Snare.wav", role="drums", channels=1),
                        stem("Overheads.wav", role="drums", channels=2),
                    )
                    for n in range(7)
                )
            ),
            Expected(stem="Kick.wav", songs=("Song 3",), says=("stereo", "are mono in 86 % of 7 songs")),
        ),
        at_limit("7 of 9 songs agree, 78 %", show(*channels(2, 2, 2, 2, 2, 2, 2, 1, 1))),
        past_limit(
            "8 of 10 songs agree, 80 %",
            show(*channels(2, 2, 2, 2, 2, 2, 2, 2, 1, 1)),
            Expected(stem="Bass.wav", songs=("Song 9",), value=80.0),
            Expected(stem="Bass.wav", songs=("Song 10",), value=80.0),
        ),
        planted(
            "four other songs agree: a note, no habit yet",
            show(*channels(2, 2, 2, 2, 1)),
            Expected(severity="note", stem="Bass.wav", songs=("Song 5",), says=("in all 4 other songs",)),
        ),
        at_limit("four of five other songs agree: 67 % with itself", show(*channels(2, 2, 2, 2, 1, 1))),
        past_limit(
            "five other songs agree", show(*channels(2, 2, 2, 2, 2, 1)), Expected(stem="Bass.wav", value=83.3)
        ),
        at_limit("two channels of one role", of(stem("Wobble.wav", channels=2))),
        past_limit("three channels", of(stem("Wobble.wav", channels=3)), Expected(stem="Wobble.wav")),
    ),
    "padded-bit-depth": (
        planted(
            "one stem",
            of(padded("Bass.wav"), stem("Keys.wav")),
            Expected(stem="Bass.wav", says=("1 of 2 stems",)),
        ),
        planted(
            "a whole song is one line",
            show(
                song("A", padded("Bass.wav"), padded("Keys.wav"), padded("Pad.wav")),
                song("B", stem("Bass.wav")),
            ),
            Expected(stem=None, songs=("A",), says=("3 of 3 stems", "Bass.wav, Keys.wav, Pad.wav")),
        ),
        planted(
            "a whole show is one line",
            show(
                *[
                    song(f"Song {n}", padded("Bass.wav"), padded("Keys.wav"), stem("Click.wav"))
                    for n in range(6)
                ]
            ),
            Expected(stem=None, songs=tuple(f"Song {n}" for n in range(6)), says=("all 12 stems",)),
        ),
        planted(
            "in 32 whole-number bits",
            of(padded("Bass.wav", bits=32, format={"is_float": False})),
            Expected(stem="Bass.wav"),
        ),
        clean("true 24 bits", of(stem("Bass.wav"), stem("Keys.wav"))),
        clean("16 bits in 16", of(padded("Bass.wav", bits=16))),
        clean(
            "click, guide and timecode", of(padded("Click.wav"), padded("Guide.wav"), padded("Timecode.wav"))
        ),
        clean("silence", of(stem("Pad.wav", silent=True))),
        clean("float", of(padded("Bass.wav", None, bits=32))),
        clean("a lossy file", of(padded("Bass.ogg", None, lossy=True))),
        clean("a synthetic waveform of few bits", of(padded("Synth.wav", 4), padded("Lead.wav", 15))),
        planted(
            "turned down by 6 dB",
            of(turned("Bass.wav", 17, -6.03)),
            Expected(stem="Bass.wav"),
        ),
        planted("turned down by 18 dB", of(turned("Bass.wav", 19, -18.1)), Expected(stem="Bass.wav")),
        planted("turned up by 6 dB", of(turned("Bass.wav", 15, -0.3)), Expected(stem="Bass.wav")),
        clean("17 bits in use, with a peak that needs them", of(turned("Bass.wav", 17, -5.9))),
        clean("a drawn waveform turned down", of(turned("Synth.wav", 17, -12.0, distinct_values=200))),
        at_limit("20 bits in use: a converter of 20 bits", of(turned("Bass.wav", 20, -30.0))),
        past_limit("19 bits in use", of(turned("Bass.wav", 19, -30.0)), Expected(stem="Bass.wav")),
        at_limit("17 bits in use", of(padded("Bass.wav", 17))),
        past_limit("16 bits in use", of(padded("Bass.wav", 16)), Expected(stem="Bass.wav")),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


@pytest.mark.parametrize("rule_id", ["channel-count-mismatch", "padded-bit-depth"])
def test_nothing_to_compare_is_not_applicable(rule_id: str):
    assert audit_with(rule_id, of(stem("Click.wav", bits=16))).not_applicable == {rule_id: 1}
