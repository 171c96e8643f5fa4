"""silent-stem and silent-channel: sound that should be there, and silence that is there on purpose."""

from __future__ import annotations

import math
from typing import Any

import pytest

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.rule import Limit
from audit.rules.silence import silent_stem
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted

HEALTHY = ("Click.wav", "Bass.wav", "Keys.wav", "Pad.wav", "Lead Vocal.wav")


def full(name: str, *more: StemEvidence, silent: tuple[str, ...] = ()) -> SongEvidence:
    """A song of five stems, those named in `silent` without sound."""
    return song(name, *(stem(file, silent=file in silent) for file in HEALTHY), *more)


def almost(file: str, peak_dbfs: float, lufs: float | None) -> StemEvidence:
    return stem(file, peaks={"sample_dbfs": peak_dbfs}, loudness={"integrated_lufs": lufs})


def click_and_timecode(*, click: bool, timecode: bool) -> StemEvidence:
    """Click left, timecode right; False is a silent side."""
    return stem(
        "Click+LTC.wav",
        parts=[
            part(Role.CLICK, channels=(0,), silent=not click),
            part(Role.TIMECODE, channels=(1,), silent=not timecode),
        ],
    )


def one_sided(file: str, side: int = 1, level_dbfs: float = -math.inf, **more: Any) -> StemEvidence:
    """A stereo stem of which `side` (0 left, 1 right) is at `level_dbfs` and the other at −6 dBFS."""
    levels = [-6.0, -6.0]
    levels[side] = level_dbfs
    return stem(file, peaks={"channel_dbfs": tuple(levels)}, **more)


def template_show() -> ShowEvidence:
    """Every song is bounced from one session; what a song does not use is printed as silence."""
    return show(
        full("Harbour Lights"),
        full("Night Ferry", silent=("Pad.wav",)),
        full("Salt Road", silent=("Bass.wav", "Keys.wav", "Lead Vocal.wav")),
    )


CASES = {
    "silent-stem": (
        planted(
            "a silent click, digital silence",
            show(full("Night Ferry", silent=("Click.wav",)), full("Salt Road")),
            Expected(
                severity="error",
                stem="Click.wav",
                songs=("Night Ferry",),
                says=("digital silence",),
                advises=("click", "ear mix down"),
            ),
        ),
        planted(
            "timecode with nothing but converter noise",
            show(full("Night Ferry", almost("LTC.wav", -84.2, None))),
            Expected(severity="error", stem="LTC.wav", value=-84.2, says=("−84.2 dBFS", "limit −80 dBFS")),
        ),
        planted(
            "the click side of a file that holds the timecode too",
            show(song("Night Ferry", click_and_timecode(click=False, timecode=True))),
            Expected(severity="error", stem="Click+LTC.wav", says=("(click, channel 1)",)),
        ),
        planted(
            "the only silent stem of the show",
            show(full("Night Ferry", silent=("Bass.wav",)), full("Salt Road"), full("Harbour Lights")),
            Expected(severity="warning", stem="Bass.wav", songs=("Night Ferry",), advises=("mute", "solo")),
        ),
        planted(
            "a solo was left on: everything else of one song is silent",
            show(full("Night Ferry", silent=HEALTHY[1:4]), full("Salt Road")),
            Expected(
                severity="warning",
                songs=("Night Ferry",),
                says=("3 of 4", "Bass.wav, Keys.wav, Pad.wav"),
                facts={"stems": ("Bass.wav", "Keys.wav", "Pad.wav")},
            ),
        ),
        planted(
            "a show that prints its unused stems: one note a song, no warning",
            template_show(),
            Expected(severity="note", songs=("Night Ferry",), says=("1 stem without", "Pad.wav")),
            Expected(severity="note", songs=("Salt Road",), says=("3 stems", "Lead Vocal.wav")),
        ),
        planted(
            "a silent click is an error in such a show as well",
            show(
                *template_show().songs,
                full("Ebb", silent=("Click.wav", "Pad.wav")),
            ),
            Expected(severity="note", songs=("Night Ferry",)),
            Expected(severity="note", songs=("Salt Road",)),
            Expected(severity="note", songs=("Ebb",), says=("1 stem without",)),
            Expected(severity="error", stem="Click.wav", songs=("Ebb",)),
        ),
        planted(
            "a show that prints its unused stems, and one song in which the audience hears nothing",
            show(*template_show().songs, full("Ebb", silent=HEALTHY[1:])),
            Expected(severity="note", songs=("Night Ferry",)),
            Expected(severity="note", songs=("Salt Road",)),
            Expected(
                severity="warning",
                songs=("Ebb",),
                says=("nothing for the audience", "Bass.wav, Keys.wav, Pad.wav, Lead Vocal.wav"),
                advises=("mute", "take the silent stems out"),
            ),
        ),
        planted(
            "the only stem beside the click is silent, and a silent guide does not make it music",
            show(
                *template_show().songs,
                song("Ebb", stem("Click.wav"), stem("Keys.wav", silent=True)),
                song("Lighthouse", stem("Guide.wav", silent=True), stem("Pad.wav", silent=True)),
            ),
            Expected(severity="note", songs=("Night Ferry",)),
            Expected(severity="note", songs=("Salt Road",)),
            Expected(severity="warning", songs=("Ebb",), stem="Keys.wav", says=("nothing for the audience",)),
            Expected(severity="warning", songs=("Lighthouse",), says=("Guide.wav, Pad.wav",)),
        ),
        planted(
            "an unused guide in a song without stems for the audience",
            show(*template_show().songs, song("Ebb", stem("Click.wav"), stem("Guide.wav", silent=True))),
            Expected(severity="note", songs=("Night Ferry",)),
            Expected(severity="note", songs=("Salt Road",)),
            Expected(severity="note", songs=("Ebb",), says=("Guide.wav",)),
        ),
        planted(
            "two unused stems of a song scanned on its own",
            show(full("Night Ferry", silent=("Keys.wav", "Pad.wav"))),
            Expected(severity="note", songs=("Night Ferry",), says=("2 stems",)),
        ),
        planted(
            "an empty guide is not as grave as an empty click",
            show(full("Night Ferry", stem("Guide.wav", silent=True))),
            Expected(severity="warning", stem="Guide.wav"),
        ),
        clean("a whole show with sound in it", show(full("Night Ferry"), full("Salt Road"))),
        clean("only a click", show(song("Night Ferry", stem("Click.wav")))),
        clean(
            "a file of no length is empty-file's",
            show(full("Night Ferry", stem("LTC.wav", frames=0, silent=True))),
        ),
        clean(
            "a few ticks, too short for any loudness gate",
            show(full("Night Ferry", almost("Perc.wav", -12.0, None))),
        ),
        clean("DC, which no loudness meter hears", show(full("Night Ferry", almost("FX.wav", -40.0, None)))),
        at_limit("a peak of exactly −80 dBFS", show(full("Night Ferry", almost("LTC.wav", -80.0, None)))),
        at_limit("exactly −70 LUFS", show(full("Night Ferry", almost("LTC.wav", -85.0, -70.0)))),
        past_limit(
            "one of four sounds for the audience, and then none",
            show(
                *template_show().songs,
                full("Ebb", silent=HEALTHY[2:]),
                full("Lighthouse", silent=HEALTHY[1:]),
            ),
            Expected(severity="note", songs=("Night Ferry",)),
            Expected(severity="note", songs=("Salt Road",)),
            Expected(severity="note", songs=("Ebb",)),
            Expected(severity="warning", songs=("Lighthouse",)),
        ),
        past_limit(
            "a peak of −80.1 dBFS",
            show(full("Night Ferry", almost("LTC.wav", -80.1, -70.1))),
            Expected(severity="error", stem="LTC.wav", value=-80.1),
        ),
    ),
    "silent-channel": (
        planted(
            "the right side is missing",
            show(song("Night Ferry", one_sided("Keys.wav"), stem("Bass.wav"))),
            Expected(
                severity="warning",
                stem="Keys.wav",
                says=("right side", "digital silence", "−6.0 dBFS"),
                advises=("right side", "mono"),
            ),
        ),
        planted(
            "the left side holds noise only",
            show(song("Night Ferry", one_sided("Pad.wav", side=0, level_dbfs=-91.5))),
            Expected(severity="warning", stem="Pad.wav", value=-91.5, says=("left side", "−91.5")),
        ),
        planted(
            "the other songs' keys have two sides",
            show(
                song("Night Ferry", one_sided("Keys.wav")),
                song("Salt Road", stem("Keys.wav")),
                song("Ebb", stem("Keys.wav")),
            ),
            Expected(stem="Keys.wav", songs=("Night Ferry",)),
        ),
        planted(
            "the role is one-sided elsewhere, but on the other side",
            show(
                song("Night Ferry", one_sided("Click.wav", side=0)),
                song("Salt Road", one_sided("Click.wav", side=1)),
                song("Ebb", one_sided("Click.wav", side=1)),
            ),
            Expected(stem="Click.wav", songs=("Night Ferry",), says=("left side",)),
        ),
        clean(
            "the click is left only in every song",
            show(*(song(name, one_sided("Click.wav")) for name in ("Night Ferry", "Salt Road", "Ebb"))),
        ),
        clean(
            "two guitars panned hard against each other",
            show(song("Night Ferry", one_sided("Guitar L.wav", side=1), one_sided("Guitar R.wav", side=0))),
        ),
        clean(
            "click left, timecode right, and one of them silent",
            show(song("Night Ferry", click_and_timecode(click=True, timecode=False))),
        ),
        clean("a silent stem is silent-stem's", show(song("Night Ferry", stem("Keys.wav", silent=True)))),
        clean("a mono file", show(song("Night Ferry", stem("Bass.wav", channels=1)))),
        clean("eight channels of one role", show(song("Night Ferry", stem("Choir.wav", channels=8)))),
        at_limit(
            "a side of exactly −80 dBFS", show(song("Night Ferry", one_sided("Keys.wav", level_dbfs=-80.0)))
        ),
        at_limit(
            "one of two other songs is so as well",
            show(
                song("Night Ferry", one_sided("Keys.wav")),
                song("Salt Road", one_sided("Keys.wav")),
                song("Ebb", stem("Keys.wav")),
            ),
        ),
        past_limit(
            "a side of −80.1 dBFS",
            show(song("Night Ferry", one_sided("Keys.wav", level_dbfs=-80.1))),
            Expected(stem="Keys.wav", value=-80.1),
        ),
        past_limit(
            "one of three other songs is so as well",
            show(
                song("Night Ferry", one_sided("Keys.wav")),
                song("Salt Road", one_sided("Keys.wav")),
                song("Ebb", stem("Keys.wav")),
                song("Lighthouse", stem("Keys.wav")),
            ),
            Expected(stem="Keys.wav", songs=("Night Ferry",)),
            Expected(stem="Keys.wav", songs=("Salt Road",)),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


def silent_after(peak_dbfs: float, lufs: float | None) -> PartEvidence:
    return part(Role.TIMECODE, peaks={"sample_dbfs": peak_dbfs}, loudness={"integrated_lufs": lufs})


@pytest.mark.parametrize("peak_dbfs", [-math.inf, -80.01, -80.0, -79.99, 0.0])
@pytest.mark.parametrize("lufs", [None, -70.01, -70.0, -69.99, -20.0])
def test_the_rule_and_the_evidence_mean_the_same_by_silence(peak_dbfs: float, lufs: float | None):
    judged = silent_after(peak_dbfs, lufs)
    found = findings(silent_stem, show(song("Night Ferry", stem("LTC.wav", parts=[judged]))))
    assert bool(found) == judged.silent


def test_the_gate_is_the_one_of_the_standard():
    """ITU-R BS.1770-5 Annex 1: blocks below −70 LKFS never count."""
    assert silent_stem.limit is not None
    assert silent_stem.limit["loudness_lufs"] == -70.0


def test_a_song_with_a_click_only_in_a_show_without_unused_stems_stays_silent():
    evidence = show(
        full("Night Ferry"),
        song("Ebb", stem("Click.wav")),
        song("Salt Road", click_and_timecode(click=True, timecode=True)),
    )
    assert findings("silent-stem", evidence) == []


def test_long_lists_are_cut_in_the_message_and_whole_in_the_report():
    unused = tuple(stem(f"Keys {number}.wav", silent=True) for number in range(9))
    evidence = show(full("Night Ferry", *unused), full("Salt Road", silent=("Pad.wav",)))
    found = next(f for f in findings("silent-stem", evidence) if f.songs == ("Night Ferry",))
    assert "and 3 more" in found.message
    assert len(found.measured["stems"]) == 9


def test_names_with_braces_are_data_not_templates():
    evidence = show(
        song("Night Ferry", stem("Keys {limit}.wav", silent=True), stem("Pad {0}.wav", silent=True))
    )
    (found,) = findings("silent-stem", evidence)
    assert "Keys {limit}.wav, Pad {0}.wav" in found.message


def test_findings_hold_no_infinity():
    """JSON has none."""
    evidence = show(full("Night Ferry", one_sided("Strings.wav"), silent=("Click.wav", "Bass.wav")))
    found = findings("silent-stem", evidence) + findings("silent-channel", evidence)
    assert len(found) == 3
    for finding in found:
        assert finding.value is None
        numbers = [fact for fact in finding.measured.values() if isinstance(fact, float)]
        assert all(math.isfinite(number) for number in numbers)


def test_a_file_of_no_length_is_counted_as_not_applicable():
    answer = audit_with("silent-stem", show(full("Night Ferry", stem("LTC.wav", frames=0, silent=True))))
    assert answer.not_applicable == {"silent-stem": 1}
    assert audit_with("silent-stem", show(full("Night Ferry"))).not_applicable == {}


@pytest.mark.parametrize("level_dbfs", [-math.inf, -95.0, -80.01, -80.0, -79.9, -60.0])
def test_a_missing_side_is_told_by_one_rule_only(level_dbfs: float):
    """silent-channel up to its limit, channel-imbalance from there on."""
    one = one_sided("Keys.wav", level_dbfs=level_dbfs, stereo={"imbalance_db": -6.0 - level_dbfs})
    said = [len(findings(rule, show(song("Ebb", one)))) for rule in ("silent-channel", "channel-imbalance")]
    assert said == ([1, 0] if level_dbfs < -80.0 else [0, 1])


def test_a_stem_without_a_pair_does_not_raise_the_question():
    answer = audit_with(
        "silent-channel", show(song("Night Ferry", stem("Bass.wav", channels=1), stem("Keys.wav")))
    )
    assert answer.not_applicable == {"silent-channel": 1}


def test_other_rules_mean_by_silence_what_the_settings_say():
    """A show whose converters hiss at −75 dBFS: what lies under it is silence to every rule."""
    hiss = stem("Keys.wav", peaks={"sample_dbfs": -75.0, "channel_dbfs": (-75.0, -75.0)},
                loudness={"integrated_lufs": -82.0})  # fmt: skip
    evidence = show(full("Night Ferry"), song("Ebb", stem("Bass.wav"), hiss))
    higher = {"silent-stem": Limit(value=-70.0, unit="dBFS", more={"loudness_lufs": -70.0})}
    assert not findings("silent-stem", evidence)
    (found,) = findings("silent-stem", evidence, limits=higher)
    assert (found.stem, found.limit) == ("Keys.wav", -70.0)
    answer = audit_with("silent-stem", evidence, limits=higher)
    judged = {s.name: s.silent for s in answer.evidence.songs[1].stems}
    assert judged == {"Bass.wav": False, "Keys.wav": True}


def test_a_missing_side_is_told_once_by_the_limit_in_force():
    one = one_sided("Keys.wav", level_dbfs=-75.0, stereo={"imbalance_db": 69.0})
    higher = {"silent-channel": Limit(value=-70.0, unit="dBFS")}
    rules = ("silent-channel", "channel-imbalance")
    assert [len(findings(r, show(song("Ebb", one)))) for r in rules] == [0, 1]
    assert [len(findings(r, show(song("Ebb", one)), limits=higher)) for r in rules] == [1, 0]
