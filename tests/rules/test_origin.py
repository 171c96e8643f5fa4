"""upsampled-source and lossy-source: where the spectrum ends, and whether it is mirrored there."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Leak
from audit.rules.origin import EVERYWHERE_SONGS
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def cliff(edge_hz: float, **more: Any) -> dict[str, Any]:
    """A ceiling as a codec or a good resampler leaves it."""
    return {"edge_hz": edge_hz, "drop_db": 55.0, "held_drop_db": 58.0, "breaks": 400, "steady": 0.98, **more}


def ends(file: str, edge_hz: float, *, rate_hz: int = 48_000, **more: Any) -> StemEvidence:
    return stem(file, rate_hz=rate_hz, ceiling=cliff(edge_hz, **more))


def mirrored(file: str, mirror: float, beside: float, mirror_hz: float = 22_050.0) -> StemEvidence:
    return stem(file, ceiling={"mirror_hz": mirror_hz, "mirror": mirror, "mirror_beside": beside})


def whole_show(edge_hz: float, songs: int) -> ShowEvidence:
    return show(
        *(
            song(f"Song {k}", ends("Drums.wav", edge_hz), stem("Pad.wav"), stem("Click.wav"))
            for k in range(songs)
        )
    )


CASES = {
    "upsampled-source": (
        planted(
            "44.1 kHz in a 48 kHz file, by a good resampler",
            of(ends("Drums.wav", 21_650.0), stem("Keys.wav")),
            Expected(
                severity="warning", stem="Drums.wav", value=58.0, says=("21.6 kHz", "44.1 kHz", "58 dB"),
                facts={"edge_hz": 21_650.0, "files": ("Drums.wav",)},
            ),
        ),
        planted(
            "two stems of one song are said together",
            of(ends("Drums.wav", 21_700.0), ends("Lead Vocal.wav", 21_600.0)),
            Expected(says=("2 stems", "Drums.wav, Lead Vocal.wav")),
        ),
        planted(
            "images of a poor resampler",
            of(mirrored("Keys.wav", 0.98, 0.1)),
            Expected(stem="Keys.wav", says=("mirror image", "22 kHz", "44.1 kHz")),
        ),
        planted(
            "48 kHz in a 96 kHz file",
            of(ends("Pad.wav", 23_600.0, rate_hz=96_000)),
            Expected(stem="Pad.wav", says=("from 48 kHz",)),
        ),
        planted(
            "32 kHz in a 44.1 kHz file",
            of(ends("Guitar.wav", 15_700.0, rate_hz=44_100)),
            Expected(stem="Guitar.wav", says=("from 32 kHz",)),
        ),
        planted(
            "the whole show once",
            whole_show(21_650.0, 3),
            Expected(songs=("Song 0", "Song 1", "Song 2"), says=("3 stems in all 3 songs",)),
        ),
        clean("a spoken guide and timecode may come from anywhere", of(
            ends("Guide.wav", 10_800.0), ends("LTC.wav", 21_650.0), mirrored("Click.wav", 1.0, 0.1))),
        clean("the file's own converter at 44.1 kHz", of(ends("Drums.wav", 21_600.0, rate_hz=44_100))),
        clean("a conversion down to 48 kHz", of(ends("Drums.wav", 23_300.0))),
        clean("the last of some single partials", of(ends("Synth.wav", 21_650.0, lines_db=40.0))),
        clean("notes that end each at its own place", of(ends("Synth.wav", 21_650.0, steady=0.1))),
        clean("a crash at the end alone", of(ends("Drums.wav", 21_650.0, breaks=9))),
        clean("clicks at even steps are their own images", of(mirrored("Percussion.wav", 0.95, 0.9))),
        clean("silence", of(stem("Pad.wav", silent=True))),
        at_limit("a fall of 29.9 dB", of(ends("Drums.wav", 21_650.0, drop_db=29.9, held_drop_db=29.9))),
        past_limit(
            "a fall of 30 dB in the maximum, 12 in the average",
            of(ends("Drums.wav", 21_650.0, drop_db=12.0, held_drop_db=30.0)),
            Expected(stem="Drums.wav", value=30.0),
        ),
        planted(
            "images in drums alone",
            of(mirrored("Drums.wav", 0.98, 0.1)),
            Expected(stem="Drums.wav", severity=Severity.NOTE, says=("a sampler plays", "44.1 kHz")),
        ),
        planted(
            "images in drums and keys",
            of(mirrored("Drums.wav", 0.98, 0.1), mirrored("Keys.wav", 0.98, 0.1)),
            Expected(stem=None, severity=Severity.WARNING, says=("mirror image", "2 stems")),
        ),
        at_limit("images in 44 %", of(mirrored("Keys.wav", 0.44, 0.0))),
        at_limit("images hardly ahead of what lies beside", of(mirrored("Keys.wav", 0.8, 0.46))),
        past_limit("images in 45 %", of(mirrored("Keys.wav", 0.45, 0.1)), Expected(stem="Keys.wav")),
    ),
    "lossy-source": (
        planted(
            "MP3 of 128 kbit/s",
            of(ends("Lead Vocal.wav", 16_800.0)),
            Expected(
                severity="warning", stem="Lead Vocal.wav", value=58.0, says=("16.8 kHz", "MP3"),
                facts={"edge_hz": 16_800.0},
            ),
        ),
        planted("MP3 of 256 kbit/s", of(ends("Drums.wav", 19_700.0)), Expected(stem="Drums.wav")),
        planted(
            "a synthesiser that ends where the drums do",
            of(ends("Drums.wav", 19_100.0), ends("Synth.wav", 19_000.0), stem("Bass.wav")),
            Expected(says=("2 stems: Drums.wav, Synth.wav",)),
        ),
        planted("a pad, lower than its partials would end", of(ends("Pad.wav", 16_700.0)),
                Expected(stem="Pad.wav")),
        planted(
            "a whole show that came as MP3 is said once",
            whole_show(16_800.0, 4),
            Expected(songs=("Song 0", "Song 1", "Song 2", "Song 3"), says=("4 stems in all 4 songs",)),
        ),
        planted(
            "two songs are no whole show",
            whole_show(16_800.0, 2),
            Expected(stem="Drums.wav", songs=("Song 0",)),
            Expected(stem="Drums.wav", songs=("Song 1",)),
        ),
        clean("partials that a synthesiser ends below half the rate", of(ends("Synth.wav", 19_600.0))),
        clean("drums that end elsewhere are no company",
              of(ends("Synth.wav", 19_600.0), stem("Drums.wav", ceiling=cliff(21_650.0)))),
        clean("a synthesiser's stem and its copy that is called percussion",
              of(*(stem(file, ceiling=cliff(19_600.0), audio={"content_hash": "one"})
                   for file in ("Synth.wav", "Perc.wav")))),
        clean("a stem stored lossy: lossy-file says it", of(
            stem("Drums.ogg", lossy=True, ceiling=cliff(16_800.0)))),
        clean("a guide from a speech machine", of(ends("Guide.wav", 16_000.5))),
        clean("the file's own filter at 44.1 kHz", of(ends("Drums.wav", 20_250.0, rate_hz=44_100))),
        clean("click and timecode in one file", of(stem("Click+LTC.wav", parts=[
            part(Role.CLICK, channels=(0,), ceiling=cliff(16_800.0)),
            part(Role.TIMECODE, channels=(1,), ceiling=cliff(16_800.0))]))),
        at_limit("a fall of 29.9 dB", of(ends("Drums.wav", 16_800.0, drop_db=29.9, held_drop_db=29.9))),
        at_limit("a fall of 11.9 dB in the average",
                 of(ends("Drums.wav", 16_800.0, drop_db=11.9, held_drop_db=40.0))),
        at_limit("a synthesiser at 17.7 kHz", of(ends("Synth.wav", 17_700.0))),
        past_limit("a synthesiser at 17.6 kHz", of(ends("Synth.wav", 17_600.0)), Expected(stem="Synth.wav")),
        past_limit(
            "a fall of 30 dB", of(ends("Drums.wav", 16_800.0, drop_db=30.0, held_drop_db=20.0)),
            Expected(stem="Drums.wav", value=30.0),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(
    ("file", "severity"), [("Drums.wav", Severity.NOTE), ("Keys.wav", Severity.WARNING)], ids=str
)
def test_images_in_all_songs_are_a_samplers_where_drums_alone_have_them(file: str, severity: Severity):
    everywhere = show(*[song(f"Song {n}", mirrored(file, 0.98, 0.1)) for n in range(EVERYWHERE_SONGS)])
    (found,) = findings("upsampled-source", everywhere)
    assert (found.severity, len(found.songs)) == (severity, EVERYWHERE_SONGS)


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize("edge_hz", range(15_000, 22_500, 50))
def test_no_edge_is_told_twice(edge_hz: int):
    evidence = of(ends("Drums.wav", float(edge_hz)))
    assert sum(len(findings(rule_id, evidence)) for rule_id in CASES) <= 1


@pytest.mark.parametrize("rule_id", list(CASES))
def test_songs_without_music_do_not_raise_the_question(rule_id: str):
    answer = audit_with(rule_id, of(stem("Click.wav"), stem("LTC.wav")))
    assert list(answer.all_findings()) == []
    assert answer.not_applicable == {rule_id: 1}


@pytest.mark.parametrize(("leak_dbfs", "told"), [(-32.0, False), (-60.0, False), (-60.5, True)])
def test_highs_that_may_be_those_of_timecode_that_leaks_in_tell_nothing(leak_dbfs: float, told: bool):
    """Its bits are mirrored at a quarter of 44.1 kHz, and end where its own file's did."""
    leak = Leak(level_dbfs=leak_dbfs, relative_db=-4.0, best_at_s=0.5, delay_ms=0.0, places=60)

    def with_leak(made: StemEvidence) -> StemEvidence:
        return replace(made, parts=(replace(made.parts[0], timecode_leak=leak),))

    images = with_leak(mirrored("Keys.wav", 0.98, 0.1, 11_025.0))
    assert bool(findings("upsampled-source", of(images, stem("Pad.wav")))) is told
    coded = with_leak(ends("Keys.wav", 17_000.0))
    assert bool(findings("lossy-source", of(coded, stem("Pad.wav")))) is told
