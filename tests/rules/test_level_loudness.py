"""crew-level-jump and song-loudness-outlier: levels that only show when songs stand side by side."""

from __future__ import annotations

import math
from collections.abc import Sequence
from statistics import NormalDist

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.customs import robust_spread
from audit.rules.loudness import crew_level_jump
from tests.evidence import audit_with, findings, mix, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.timecode_tracks import track


def heard(file: str, momentary_lufs: float | None, *, peak_dbfs: float | None = None) -> StemEvidence:
    """A stem of this maximum momentary loudness; its peak moves with it unless told otherwise."""
    peak = (-20.0 if momentary_lufs is None else momentary_lufs) + 12.0 if peak_dbfs is None else peak_dbfs
    return stem(
        file,
        loudness={"max_momentary_lufs": momentary_lufs, "max_momentary_at_s": 8.0},
        peaks={"sample_dbfs": peak},
    )


def timecode(rms_dbfs: float) -> StemEvidence:
    return stem("LTC.wav", channels=1, levels={"active_rms_dbfs": rms_dbfs}, timecode=track())


def clicks(*levels: float, file: str = "Click.wav") -> ShowEvidence:
    """A show of one click a song, at these maximum momentary loudnesses: "Song 1", "Song 2" …"""
    return show(*(song(f"Song {n}", heard(file, level)) for n, level in enumerate(levels, start=1)))


def timecodes(*levels: float) -> ShowEvidence:
    return show(*(song(f"Song {n}", timecode(level)) for n, level in enumerate(levels, start=1)))


BAND = ("Drums.wav", "Bass.wav", "Keys.wav", "Lead Vocal.wav")
DUO = ("Piano.wav", "Strings.wav")


def mixed(
    name: str, lufs: float | None, stems: Sequence[str] = BAND, *, loud: str = "", stems_lufs: float = -18.0
) -> SongEvidence:
    """A song with a click and these stems, its mix at this integrated loudness; loud: the stem that makes
    most of it, the others lie at `stems_lufs`."""
    return song(
        name,
        stem("Click.wav"),
        *(
            stem(file, loudness={"integrated_lufs": lufs - 0.2 if file == loud else stems_lufs})
            if lufs is not None
            else stem(file)
            for file in stems
        ),
        mix=mix(loudness={"integrated_lufs": lufs}, from_stems=tuple(stems)),
    )


def set_of(*levels: float, last: SongEvidence | None = None) -> ShowEvidence:
    songs = [mixed(f"Song {n}", level) for n, level in enumerate(levels, start=1)]
    return show(*songs, *([last] if last else []))


STEADY = (-14.0, -14.3, -13.8, -14.1, -13.9, -14.0, -14.2)
LOOSE = (-10.0, -13.0, -16.0, -19.0, -14.0, -12.0, -17.0)

RHYTHM = ("Drums.wav", "Bass.wav")
SYNTHS = (*RHYTHM, "Guitar.wav", "Synth.wav", "Brass.wav", "Backing Vocals.wav")
OTHER_BANDS = tuple(
    mixed(f"Song {n}", -14.0, (*RHYTHM, *own))
    for n, own in enumerate(
        [
            ("Keys.wav", "Organ.wav", "Lead Vocal.wav"), ("Strings.wav", "Piano.wav", "Lead Vocal.wav"),
            ("Pad.wav", "Strings.wav", "FX.wav"), ("Piano.wav", "Lead Vocal.wav"), ("Choir.wav", "Organ.wav"),
        ]
    )
)  # fmt: skip
"""Songs that share drums and bass, and a third of their roles or less with SYNTHS."""

CASES = {
    "crew-level-jump": (
        planted(
            "a click 9 LU louder than the others",
            clicks(-20.0, -20.5, -11.0, -19.8),
            Expected(
                severity="warning",
                songs=("Song 3",),
                stem="Click.wav",
                value=9.0,
                at_s=8.0,
                says=("click is 9.0 dB louder", "−11.0 LUFS", "usually −20.0", "limit 6 dB"),
                advises=("9 dB quieter", "ear mix down", "local rules", "qualified"),
            ),
        ),
        planted(
            "a guide nobody will hear",
            clicks(-18.0, -33.0, -18.4, -17.0, file="Guide.wav"),
            Expected(
                songs=("Song 2",),
                stem="Guide.wav",
                value=-15.0,
                says=("15.0 dB quieter",),
                advises=("louder",),
            ),
        ),
        planted(
            "timecode 5 dB hotter",
            timecodes(-18.0, -18.0, -13.0),
            Expected(
                songs=("Song 3",), stem="LTC.wav", value=5.0, says=("timecode", "dBFS RMS", "limit 3 dB")
            ),
        ),
        planted(
            "the right side of a file of two roles",
            show(
                *timecodes(-18.0, -18.0).songs,
                song(
                    "Song 3",
                    stem(
                        "Click+LTC.wav",
                        parts=[
                            part(Role.CLICK, channels=(0,)),
                            part(
                                Role.TIMECODE,
                                timecode=track(),
                                channels=(1,),
                                levels={"active_rms_dbfs": -10.0},
                            ),
                        ],
                    ),
                ),
            ),
            Expected(songs=("Song 3",), stem="Click+LTC.wav", value=8.0, says=("(timecode, channel 2)",)),
        ),
        planted(
            "two of five stand apart: each is told",
            clicks(-20.0, -20.0, -10.0, -20.0, -10.0),
            Expected(songs=("Song 3",), stem="Click.wav", value=10.0),
            Expected(songs=("Song 5",), stem="Click.wav", value=10.0),
        ),
        planted(
            "two camps: said once, with both ends",
            clicks(-20.0, -10.0, -20.4, -9.0),
            Expected(
                songs=("Song 1", "Song 2", "Song 3", "Song 4"),
                value=11.4,
                says=("no common level", "−20.4", "Song 3", "−9.0", "Song 4"),
                advises=("ear mix down",),
            ),
        ),
        clean("ordinary differences between sessions", clicks(-20.0, -17.5, -22.0, -19.0, -21.0)),
        clean("two songs are too few to say which is wrong", clicks(-20.0, -8.0)),
        clean("timecode at −3 dBFS everywhere", timecodes(-3.2, -3.0, -3.1, -3.0)),
        clean("timecode too low to have a level while it sounds", timecodes(-18.0, -18.0, -18.0, -math.inf)),
        clean(
            "a second, quieter click beside the first",
            show(
                *clicks(-20.0, -20.0, -20.0).songs,
                song("Song 4", heard("Click.wav", -20.0), heard("Click 8ths.wav", -33.0)),
            ),
        ),
        clean(
            "a silent click is silent-stem's",
            show(*clicks(-20.0, -20.0, -20.0).songs, song("Song 4", stem("Click.wav", silent=True))),
        ),
        clean(
            "a click too short for a loudness",
            show(*clicks(-20.0, -20.0, -20.0).songs, song("Song 4", heard("Click.wav", None))),
        ),
        clean(
            "loud and quiet songs, the click always the same",
            show(
                *(
                    song(f"Song {n}", heard("Click.wav", -20.0), heard("Bass.wav", -40.0 + 5 * n))
                    for n in range(6)
                )
            ),
        ),
        clean(
            "another click sound of the same peak",
            show(
                *(song(f"Song {n}", heard("Click.wav", -29.0, peak_dbfs=-6.0)) for n in range(3)),
                song("Ebb", heard("Click.wav", -18.8, peak_dbfs=-6.0)),
            ),
        ),
        at_limit(
            "10 LU, but the peak moved by 2.9 dB only",
            show(
                *(song(f"Song {n}", heard("Click.wav", -29.0, peak_dbfs=-6.0)) for n in range(3)),
                song("Ebb", heard("Click.wav", -19.0, peak_dbfs=-3.1)),
            ),
        ),
        past_limit(
            "10 LU quieter, and the peak 3 dB down with it",
            show(
                *(song(f"Song {n}", heard("Click.wav", -29.0, peak_dbfs=-6.0)) for n in range(3)),
                song("Ebb", heard("Click.wav", -39.0, peak_dbfs=-9.0)),
            ),
            Expected(songs=("Ebb",), stem="Click.wav", value=-10.0),
        ),
        past_limit(
            "a guide pressed to the same peak is louder all the same",
            show(
                *(song(f"Song {n}", heard("Guide.wav", -22.0, peak_dbfs=-3.0)) for n in range(3)),
                song("Ebb", heard("Guide.wav", -14.0, peak_dbfs=-3.0)),
            ),
            Expected(songs=("Ebb",), stem="Guide.wav", value=8.0),
        ),
        at_limit("6 LU", clicks(-20.0, -20.0, -14.0)),
        at_limit("3 dB of timecode", timecodes(-18.0, -18.0, -15.0)),
        past_limit(
            "6.1 LU", clicks(-20.0, -20.0, -13.9), Expected(songs=("Song 3",), stem="Click.wav", value=6.1)
        ),
        past_limit(
            "3.1 dB of timecode, downwards",
            timecodes(-18.0, -18.0, -21.1),
            Expected(songs=("Song 3",), stem="LTC.wav", value=-3.1),
        ),
    ),
    "song-loudness-outlier": (
        planted(
            "9 LU louder than seven like it",
            set_of(*STEADY, -5.0),
            Expected(
                severity="note",
                songs=("Song 8",),
                value=9.0,
                says=("mix is 9.0 LU louder", "−5.0 LUFS", "usually −14.0", "limit 6.0 LU"),
                advises=("9 dB down", "same amount"),
                facts={"songs_compared": 7},
            ),
        ),
        planted(
            "14 LU quieter",
            set_of(-28.0, *STEADY),
            Expected(
                severity="warning",
                songs=("Song 1",),
                value=-14.0,
                says=("14.0 LU quieter", "−28.0 LUFS", "limit 10.0 LU"),
                advises=("14 dB up", "same amount", "turn PA and in-ears down", "sound engineer"),
            ),
        ),
        planted(
            "12 LU louder than four like it: it startles in a short show too",
            set_of(*STEADY[:4], -2.0),
            Expected(
                severity="warning",
                songs=("Song 5",),
                value=12.05,
                says=("12.1 LU louder", "usually −14.1", "limit 10.0 LU"),
                advises=(
                    "Turn PA and in-ears down",
                    "its stems 12 dB down",
                    "sound engineer",
                    "sound pressure",
                    "local rules",
                ),
            ),
        ),
        planted(
            "one stem drowns a song whose line-up is nobody else's",
            show(*OTHER_BANDS, mixed("Ebb", -2.0, SYNTHS, loud="Guitar.wav")),
            Expected(
                severity="warning",
                songs=("Ebb",),
                value=12.0,
                says=("Guitar.wav alone makes it so",),
                advises=("bring Guitar.wav down to where it is in the other songs.",),
                facts={"songs_compared": 5},
            ),
        ),
        planted(
            "a line-up that shares half of the roles is still compared",
            set_of(*STEADY, last=mixed("Ebb", -25.0, BAND[:2])),
            Expected(severity="note", songs=("Ebb",), value=-11.0),
        ),
        clean("10 LU between songs in a show that varies", set_of(*LOOSE, -9.0)),
        clean(
            "a line-up that shares one role of six",
            set_of(*STEADY, last=mixed("Ebb", -26.0, ("Bass.wav", *DUO))),
        ),
        clean("a duo among band songs", set_of(*STEADY, last=mixed("Ebb", -26.0, DUO))),
        clean("an interlude of a pad", set_of(*STEADY, last=mixed("Ebb", -34.0, ("Pad.wav",)))),
        clean(
            "an intro of voices alone in a short show",
            set_of(*STEADY[:4], last=mixed("Ebb", -30.0, ("Lead Vocal.wav", "Choir.wav"))),
        ),
        clean("a ballad of the whole band, 9 LU softer", set_of(*STEADY[:4], -23.0)),
        clean(
            "a song of half the band, 12 LU softer, in a short show",
            set_of(*STEADY[:4], last=mixed("Ebb", -26.0, BAND[:2])),
        ),
        clean(
            "the one song of the whole band among duos: more stems, none of them louder",
            show(
                *(mixed(f"Song {n}", -27.0, ("Bass.wav", "Keys.wav")) for n in range(4)),
                mixed("Ebb", -14.0, (*BAND, "Guitar.wav")),
            ),
        ),
        clean("12 LU off in a short show that varies", set_of(*LOOSE[:4], -2.5)),
        clean("a song that has no role of the others", show(*OTHER_BANDS, mixed("Ebb", -2.0, ("FX.wav",)))),
        clean("four songs cannot tell which of them is wrong", set_of(*STEADY[:3], -2.0)),
        clean("seven songs are too few", set_of(*STEADY[:6], -5.0)),
        clean(
            "songs with a click only have no mix",
            show(*set_of(*STEADY).songs, song("Ebb", stem("Click.wav")), mixed("Gate", None)),
        ),
        at_limit("6 LU in a steady show", set_of(*STEADY, -8.0)),
        at_limit("9.9 LU in a short show", set_of(-14.0, -14.0, -14.0, -14.0, -4.1)),
        past_limit(
            "10 LU in a short show",
            set_of(-14.0, -14.0, -14.0, -14.0, -4.0),
            Expected(severity="warning", songs=("Song 5",), value=10.0),
        ),
        at_limit(
            "12 LU louder, its loudest stem 5.9 LU above theirs",
            show(*OTHER_BANDS, mixed("Ebb", -2.0, SYNTHS, stems_lufs=-12.1)),
        ),
        past_limit(
            "12 LU louder, its loudest stem 6 LU above theirs",
            show(*OTHER_BANDS, mixed("Ebb", -2.0, SYNTHS, stems_lufs=-12.0)),
            Expected(severity="warning", songs=("Ebb",), value=12.0),
        ),
        past_limit(
            "6.1 LU in a steady show",
            set_of(*STEADY, -7.9),
            Expected(severity="note", songs=("Song 8",), value=6.1),
        ),
        past_limit(
            "the eighth song that shares half of the roles makes enough",
            set_of(*STEADY[:6], -5.0, last=mixed("Ebb", -14.0, BAND[:2])),
            Expected(severity="note", songs=("Song 7",), value=9.0),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


@pytest.mark.parametrize("shift_db", [-30.0, -6.02, 6.02, 12.0])
def test_only_the_differences_between_songs_count(shift_db: float):
    """Turning the whole show up or down changes no answer."""
    levels = (-20.0, -20.5, -11.0, -19.8, -27.5)
    moved = [level + shift_db for level in levels]
    for build in (clicks, timecodes):
        before, after = (
            findings("crew-level-jump", build(*levels)),
            findings("crew-level-jump", build(*moved)),
        )
        assert before
        assert [f.songs for f in before] == [f.songs for f in after]
        assert [f.value for f in before] == pytest.approx([f.value for f in after])


def test_the_order_of_the_songs_does_not_matter():
    levels = [-20.0, -20.5, -11.0, -19.8, -27.5, -20.2]
    values = {f.value for f in findings("crew-level-jump", clicks(*levels))}
    assert {f.value for f in findings("crew-level-jump", clicks(*reversed(levels)))} == values
    assert len(values) == 2


def test_a_loose_show_widens_its_own_limit():
    """LOOSE has the median −14 and the distances 4 1 2 5 0 2 3, their median 2: 3 x 1.4826 x 2 = 8.90 LU."""
    assert findings("song-loudness-outlier", set_of(*LOOSE, -5.2)) == []
    (found,) = findings("song-loudness-outlier", set_of(*LOOSE, -5.0))
    assert (found.songs, found.value) == (("Song 8",), pytest.approx(9.0))
    assert found.limit == pytest.approx(8.896, abs=0.001)


def test_timecode_leaves_the_preferred_voltage_past_the_limit():
    """IEC 60461 8.6.7: 1 to 2 V peak to peak preferred; from the middle it is 3.01 dB to either end."""
    assert crew_level_jump.limit is not None
    assert crew_level_jump.limit["timecode_db"] == pytest.approx(20 * math.log10(2 / 1) / 2, abs=0.02)


def test_robust_spread_is_the_standard_deviation_of_normal_data():
    """The factor's definition: 1/Φ⁻¹(3/4). Rousseeuw & Croux 1993 print 1.4826 [memory]."""
    data = [NormalDist(mu=-14, sigma=2.0).inv_cdf((i + 0.5) / 999) for i in range(999)]
    assert robust_spread(data) == pytest.approx(2.0, rel=0.01)
    assert robust_spread([1.0, 2.0, 3.0, 4.0, 5.0]) == pytest.approx(1 / NormalDist().inv_cdf(0.75), rel=1e-4)


def test_robust_spread_shrugs_at_a_wild_value():
    assert robust_spread([*STEADY, 60.0]) < 0.4
    assert robust_spread([]) == 0.0
    assert robust_spread([-14.0]) == 0.0


def test_too_few_songs_is_not_applicable_and_no_crew_is_no_question():
    answer = audit_with("crew-level-jump", clicks(-20.0, -8.0))
    assert answer.not_applicable == {"crew-level-jump": 2}
    answer = audit_with("crew-level-jump", show(*clicks(-20.0, -8.0).songs, song("Ebb", stem("Bass.wav"))))
    assert answer.not_applicable == {"crew-level-jump": 2}
    answer = audit_with("song-loudness-outlier", show(song("Ebb", stem("Click.wav")), mixed("Gate", -14.0)))
    assert answer.not_applicable == {"song-loudness-outlier": 2}


@pytest.mark.parametrize("others", range(2, 9))
@pytest.mark.parametrize("by_db", [-40.0, -7.0, 7.0, 40.0])
def test_one_wild_song_is_the_only_one_told(others: int, by_db: float):
    """However short the show and however wild the song, it never drags the right ones into the report."""
    evidence = clicks(*[-20.0] * others, -20.0 + by_db)
    (found,) = findings("crew-level-jump", evidence)
    assert (found.songs, found.value) == ((f"Song {others + 1}",), pytest.approx(by_db))


@pytest.mark.parametrize("half", range(2, 6))
def test_two_halves_are_told_once(half: int):
    (found,) = findings("crew-level-jump", clicks(*[-20.0, -10.0] * half))
    assert len(found.songs) == 2 * half
    assert found.value == pytest.approx(10.0)


def test_half_of_the_songs_apart_is_no_common_level():
    (found,) = findings("crew-level-jump", clicks(-20.0, -20.0, -20.0, -10.0, 0.0, -30.0))
    assert found.songs == ("Song 4", "Song 5", "Song 6")
    assert "no common level" in found.message


def test_each_role_is_compared_with_itself():
    """A guide is quieter than a click in every song, and the timecode is at its own level: no jump."""
    evidence = show(
        *(
            song(f"Song {n}", heard("Click.wav", -12.0), heard("Guide.wav", -26.0), timecode(-30.0))
            for n in range(5)
        )
    )
    assert findings("crew-level-jump", evidence) == []


def test_a_mix_that_was_not_measured_is_unmeasured_not_passed_over():
    why = "600 stems cannot be summed: this system lets 448 of them be open at once"
    large = song("Ebb", stem("Bass.wav"), stem("Full Mix.wav"), mix_failure=why)
    for rule in ("song-loudness-outlier", "mix-beside-parts"):
        answer = audit_with(rule, show(large))
        (gap,) = answer.songs[0].unmeasured
        assert (gap.stem, why in gap.reason) == (None, True)
        assert answer.incomplete
        assert answer.not_applicable == {}
    assert not audit_with("mix-beside-parts", show(song("Ebb", stem("Bass.wav"), mix_failure=why))).incomplete
