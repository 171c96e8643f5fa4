"""dropout, repeated-block, splice-click: what they say of places, channels and counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Finding, Severity
from audit.results import ClickTrack, Damage, Envelope, Hole, Leak, PartsFit, Repeat, SpliceClick
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Expected, at_limit, check, clean, listed, past_limit, planted

RATE_HZ = 48_000


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def hole(at_s: float, frames: int, *, value: float = 0.0, channels: tuple[int, ...] = (0, 1)) -> Hole:
    return Hole(
        at_frame=round(at_s * RATE_HZ), frames=frames, value=value, level_dbfs=-18.0, channels=channels
    )


def holes(*places: Hole, count: int | None = None) -> Damage:
    longest = max(place.frames for place in places)
    return Damage(holes=places, hole_count=count or len(places), longest_hole_frames=longest)


def repeat(at_s: float, frames: int, *, times: int = 1, channels: tuple[int, ...] = (0, 1)) -> Repeat:
    return Repeat(
        at_frame=round(at_s * RATE_HZ), frames=frames, times=times, lag_frames=frames, channels=channels
    )


def repeats(*places: Repeat, count: int | None = None) -> Damage:
    return Damage(repeats=places, repeat_count=count or len(places))


def click(
    at_s: float, above_db: float, *, size_dbfs: float = -22.0, channels: tuple[int, ...] = (0, 1)
) -> SpliceClick:
    return SpliceClick(
        at_frame=round(at_s * RATE_HZ), size_dbfs=size_dbfs, above_db=above_db, channels=channels
    )


def held(at_s: float, frames: int, above_db: float, *, channels: tuple[int, ...] = (0, 1)) -> SpliceClick:
    return replace(click(at_s, above_db, channels=channels), held_frames=frames)


def clicks(*places: SpliceClick, count: int | None = None) -> Damage:
    return Damage(clicks=places, click_count=count or len(places))


CODE = part(Role.TIMECODE, channels=(0,), damage=holes(hole(5.0, 960, channels=(0,))))

CASES = {
    "dropout": (
        planted(
            "20 ms of silence", of(stem("Bass.wav", damage=holes(hole(61.25, 960)))),
            Expected(stem="Bass.wav", value=20.0, at_s=61.25, says=("20.0 ms of silence", "1:01.250")),
        ),
        planted(
            "five holes, one side, a held value",
            of(stem("Keys.wav", damage=holes(
                *(hole(10.0 + k, 240 + k, value=0.1, channels=(1,)) for k in range(5))
            ))),
            Expected(
                stem="Keys.wav", value=244 / 48, at_s=14.0, facts={"holes": 5},
                says=("on channel 2 only", "one held value", "4 more, at 0:10.000, 0:11.000, 0:12.000 …"),
            ),
        ),
        planted(
            "the longest of three with its own place, level and side, not the first one's",
            of(stem("Keys.wav", damage=holes(
                replace(hole(36.764, 139), level_dbfs=-65.0), replace(hole(51.456, 960, channels=(1,)),
                level_dbfs=-21.0), hole(70.0, 960, value=0.2),
            ))),
            Expected(
                stem="Keys.wav", value=20.0, at_s=51.456, facts={"holes": 3, "level": -21.0},
                says=("on channel 2 only at 0:51.456: 20.0 ms of silence", "at −21 dBFS",
                      "and 2 more, at 0:36.764, 1:10.000"),
            ),
        ),
        planted(
            "more than are listed",
            of(stem("Pad.wav", damage=holes(hole(3.0, 480), hole(4.0, 96), count=40))),
            Expected(stem="Pad.wav", value=10.0, says=("39 more",)),
        ),
        planted(
            "what is too short to count, listed or not, is not counted",
            of(stem("Pad.wav", damage=holes(hole(3.0, 480), hole(4.0, 50), count=40))),
            Expected(stem="Pad.wav", value=10.0, facts={"holes": 1}, says=("(limit 2 ms)",)),
        ),
        clean("nothing measured", of(stem("Bass.wav"))),
        clean("an undamaged stem", of(stem("Bass.wav", damage=Damage()))),
        clean("timecode is judged by its frames", of(stem("LTC.wav", parts=[CODE], channels=1))),
        at_limit("1.98 ms", of(stem("Bass.wav", damage=holes(hole(1.0, 95))))),
        past_limit(
            "2 ms, the limit itself", of(stem("Bass.wav", damage=holes(hole(1.0, 96)))),
            Expected(stem="Bass.wav", value=2.0),
        ),
    ),
    "repeated-block": (
        planted(
            "256 samples twice", of(stem("Bass.wav", damage=repeats(repeat(9.5, 256)))),
            Expected(stem="Bass.wav", value=256, at_s=9.5, says=("256 samples (5.3 ms) twice",)),
        ),
        planted(
            "1024 samples three times, twice in the song, one side",
            of(stem("Drums.wav", damage=repeats(
                repeat(2.0, 1024, times=2, channels=(0,)), repeat(90.0, 512, channels=(0,))
            ))),
            Expected(
                stem="Drums.wav", value=1024, facts={"blocks": 2},
                says=("three times on channel 1 only at 0:02.000", "1 more, at 1:30.000"),
            ),
        ),
        clean("nothing measured", of(stem("Bass.wav"))),
        clean("a click repeats by design", of(stem("Click.wav", damage=repeats(repeat(1.0, 512))))),
        at_limit("63 samples", of(stem("Bass.wav", damage=repeats(repeat(1.0, 63))))),
        past_limit(
            "64 samples, the limit itself", of(stem("Bass.wav", damage=repeats(repeat(1.0, 64)))),
            Expected(stem="Bass.wav", value=64),
        ),
    ),
    "splice-click": (
        planted(
            "one click", of(stem("Bass.wav", damage=clicks(click(33.0, 48.0)))),
            Expected(stem="Bass.wav", value=48.0, at_s=33.0, says=("−22 dBFS", "48 dB above")),
        ),
        planted(
            "three clicks on the right",
            of(stem("Strings.wav", damage=clicks(*(click(k, 60.0 + k, channels=(1,)) for k in (5, 15, 30))))),
            Expected(stem="Strings.wav", value=65.0, facts={"clicks": 3}, says=("channel 2 at", "2 more")),
        ),
        planted(
            "half a millisecond that keeps one value",
            of(stem("Keys.wav", damage=clicks(held(61.5, 24, 52.0)))),
            Expected(
                stem="Keys.wav", severity=Severity.WARNING, value=52.0, at_s=61.5, facts={"held": 24},
                says=("freezes at 1:01.500", "24 samples keep one value", "a tick"),
                advises=("larger buffer", "1:01.500"),
            ),
        ),
        planted(
            "a held value on the left, then a click",
            of(stem("Keys.wav", damage=clicks(held(4.0, 9, 30.0, channels=(0,)), click(9.0, 60.0)))),
            Expected(stem="Keys.wav", value=30.0, says=("on channel 1 at 0:0", "1 more, at 0:09.000")),
        ),
        at_limit("a held value at 24 dB", of(stem("Keys.wav", damage=clicks(held(1.0, 24, 24.0))))),
        clean("timecode holds its values", of(stem("LTC.wav", damage=clicks(held(1.0, 24, 60.0))))),
        clean("nothing measured", of(stem("Bass.wav"))),
        clean("a click is made of clicks", of(stem("Click.wav", damage=clicks(click(1.0, 80.0))))),
        at_limit("24 dB", of(stem("Bass.wav", damage=clicks(click(1.0, 24.0))))),
        planted(
            "a click 45 dB under the peak",
            of(stem(
                "Hits.wav", peaks={"sample_dbfs": -9.0}, damage=clicks(click(1.0, 30.0, size_dbfs=-54.0)),
            )),
            Expected(stem="Hits.wav", severity=Severity.WARNING),
        ),
        planted(
            "fainter ones",
            of(stem("Hits.wav", peaks={"sample_dbfs": -10.0}, damage=clicks(
                click(1.0, 30.0, size_dbfs=-55.1), click(2.0, 30.0, size_dbfs=-60.0)))),
            Expected(stem="Hits.wav", severity=Severity.NOTE),
        ),
        planted(
            "a faint one first, then a loud one",
            of(stem("Hits.wav", peaks={"sample_dbfs": -10.0}, damage=clicks(
                click(1.0, 30.0, size_dbfs=-60.0), click(2.0, 30.0, size_dbfs=-30.0)))),
            Expected(stem="Hits.wav", severity=Severity.WARNING),
        ),
        past_limit(
            "24.1 dB", of(stem("Bass.wav", damage=clicks(click(1.0, 24.1)))),
            Expected(stem="Bass.wav", value=24.1),
        ),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id, case):
    check(rule_id, case)


def test_a_dropout_is_an_error_and_a_click_a_warning():
    for rule_id, damage, severity in (
        ("dropout", holes(hole(1.0, 960)), Severity.ERROR),
        ("repeated-block", repeats(repeat(1.0, 960)), Severity.ERROR),
        ("splice-click", clicks(click(1.0, 40.0)), Severity.WARNING),
    ):
        (found,) = audit_with(rule_id, of(stem("Bass.wav", damage=damage))).all_findings()
        assert found.severity is severity
        assert found.sample == RATE_HZ


def test_a_stem_of_timecode_alone_does_not_raise_the_question():
    audit = audit_with("dropout", of(stem("LTC.wav", parts=[CODE], channels=1)))
    assert not list(audit.all_findings())
    assert audit.not_applicable == {"dropout": 1}


CLICK = ClickTrack(
    beats_s=tuple(0.5 * beat for beat in range(240)), accents=(True, False, False, False) * 60, runs=(),
    bpm=120.0, metre="4/4", count_in_beats=4, first_beat_s=0.0,
)  # fmt: skip


@pytest.mark.parametrize(
    ("at_s", "length_s", "told"),
    [
        (60.127, 0.123, False),  # from 2 ms behind a sixteenth to the next but one
        (60.130, 0.125, False),
        (60.136, 0.114, False),  # let go 11 ms behind
        (60.138, 0.112, True),  # it begins 13 ms behind
        (60.127, 0.118, False),  # an edit's mute, faded in again 5 ms ahead
        (60.127, 0.116, True),  # it ends 7 ms ahead
        (60.127, 0.130, True),  # it ends 7 ms behind
        (60.005, 0.055, True),  # short ones are no rests
        (130.001, 0.124, True),  # where no click is
    ],
)
def test_a_rest_between_two_struck_sounds_is_no_hole(at_s: float, length_s: float, told: bool):
    """Samplers end a sound with the note, and the next begins on the beat."""
    drums = stem("Drums.wav", damage=holes(hole(at_s, round(length_s * RATE_HZ))))
    found = audit_with("dropout", show(replace(song("Night Ferry", drums), click=CLICK)))
    assert bool(list(found.all_findings())) is told


@pytest.mark.parametrize(
    ("at_s", "frames", "told"),
    [
        (60.0, 3000, False),  # an eighth of a beat, on the beat: a stutter
        (60.0625, 3000, False),
        (60.0009, 3000, False),
        (60.0, 3001, False),
        (60.0, 3002, True),  # no part of the beat to the sample
        (60.0011, 3000, True),  # beside its parts
        (60.0833, 4000, False),  # a sixth
        (60.0, 2000, False),
        (60.0, 1500, False),
        (60.0, 750, False),
        (60.0, 2048, True),  # an interface's buffer, and no part of the beat
        (130.0, 3000, True),  # where no click is
    ],
)
def test_a_stutter_on_the_beat_is_no_late_buffer(at_s: float, frames: int, told: bool):
    voice = stem("Lead Vocal.wav", damage=repeats(repeat(at_s, frames)))
    found = audit_with("repeated-block", show(replace(song("Night Ferry", voice), click=CLICK)))
    assert bool(list(found.all_findings())) is told


@pytest.mark.parametrize(("bpm", "told"), [(117.1875, True), (120.0, False)])
def test_what_is_as_long_as_a_buffer_is_one_whatever_the_beat(bpm: float, told: bool):
    """3072 samples are 48 times 64, and an eighth of a beat at 117.1875 beats a minute."""
    click = replace(CLICK, beats_s=tuple(60.0 / bpm * beat for beat in range(240)), bpm=bpm)
    frames = round(60.0 / bpm * RATE_HZ / 8)
    voice = stem("Lead Vocal.wav", damage=repeats(repeat(click.beats_s[100], frames)))
    found = audit_with("repeated-block", show(replace(song("Night Ferry", voice), click=click)))
    assert bool(list(found.all_findings())) is told


def test_a_buffer_beside_stutters_is_told_and_they_are_not_counted():
    places = (repeat(30.0, 3000), repeat(31.0, 3000), repeat(40.123, 512))
    voice = stem("Lead Vocal.wav", damage=repeats(*places))
    found = audit_with("repeated-block", show(replace(song("Night Ferry", voice), click=CLICK)))
    (one,) = found.all_findings()
    assert (one.value, one.at_s) == (512, pytest.approx(40.123, abs=1e-3))
    assert "more" not in one.message


@pytest.mark.parametrize(
    ("role", "length_s", "under_lu", "told"),
    [
        (Role.LEAD_VOCAL, 0.7, 28.0, False),  # two takes joined in the noise of the room
        (Role.LEAD_VOCAL, 0.061, 20.1, False),
        (Role.LEAD_VOCAL, 0.061, 19.9, True),
        (Role.LEAD_VOCAL, 0.059, 28.0, True),  # as short as a late buffer
        (Role.GUIDE, 0.98, 0.0, False),  # between two words
        (Role.GUIDE, 0.059, 0.0, True),
        (Role.BASS, 0.98, 0.0, True),
    ],
)
def test_a_pause_between_takes_or_words_is_no_hole(role: Role, length_s: float, under_lu: float, told: bool):
    place = replace(hole(61.3, round(length_s * RATE_HZ)), level_dbfs=-17.0 - under_lu)
    one = part(role, loudness={"integrated_lufs": -17.0}, damage=holes(place))
    assert bool(list(audit_with("dropout", of(stem("One.wav", parts=[one]))).all_findings())) is told


@pytest.mark.parametrize(
    ("role", "length_s", "same_sound", "told"),
    [
        (Role.GUIDE, 0.018, False, False),  # a "t" that is closed before it sounds
        (Role.GUIDE, 0.0101, False, False),
        (Role.GUIDE, 0.0099, False, True),  # as short as a late buffer
        (Role.GUIDE, 0.018, True, True),  # in the middle of a vowel
        (Role.LEAD_VOCAL, 0.018, False, True),
    ],
)
def test_a_hole_between_two_sounds_of_a_guide_is_a_word_s_own(
    role: Role, length_s: float, same_sound: bool, told: bool
):
    place = replace(hole(61.3, round(length_s * RATE_HZ)), same_sound=same_sound)
    one = part(role, damage=holes(place))
    assert bool(list(audit_with("dropout", of(stem("One.wav", parts=[one]))).all_findings())) is told


@pytest.mark.parametrize(
    ("file", "at_s", "length_s", "told"),
    [
        ("Click.wav", 60.035, 0.965, False),  # a beep of 35 ms, and the next beat but one
        ("Click.wav", 60.035, 0.9705, False),
        ("Click.wav", 60.035, 0.958, True),  # it ends 7 ms ahead of the beat
        ("Click.wav", 60.035, 0.972, True),  # 7 ms behind it
        ("Click.wav", 60.45, 0.05, True),  # as short as a late buffer
        ("Bass.wav", 60.035, 0.965, True),
    ],
)
def test_a_click_rests_until_its_next_beat(file: str, at_s: float, length_s: float, told: bool):
    one = stem(file, damage=holes(hole(at_s, round(length_s * RATE_HZ))))
    found = audit_with("dropout", show(replace(song("Night Ferry", one), click=CLICK)))
    assert bool(list(found.all_findings())) is told


def test_rests_of_unlike_length_a_quarter_of_the_beat_apart_to_the_sample_are_played_so():
    """The echo of a part that ends its notes hard, on no beat itself. Late buffers are of one length."""

    def told(second_s: float, frames: int) -> int:
        drums = stem("Synth.wav", damage=holes(hole(60.177, 1000), hole(second_s, frames)))
        found = audit_with("dropout", show(replace(song("Night Ferry", drums), click=CLICK))).all_findings()
        return sum(int(one.measured["holes"]) for one in found)

    assert told(61.302, 800) == 0
    assert told(61.302, 801) == 2
    assert told(61.3024, 1250) == 0
    assert told(61.3027, 1250) == 2


def told_of(*at_s: float, frames: int = 960) -> list[float]:
    """Where holes at these places are told of, in a song of 120 beats a minute."""
    drums = stem("Synth.wav", damage=holes(*(hole(one, frames) for one in at_s)))
    found = list(audit_with("dropout", show(replace(song("Night Ferry", drums), click=CLICK))).all_findings())
    return [float(one.measured["holes"]) for one in found]


def test_what_comes_back_with_the_beat_is_played_so():
    """Notes cut off by a sampler, at one place of the bar: half beats apart, or whole bars."""
    assert told_of(60.1, 60.6, 61.35) == []
    assert told_of(60.1, 60.6015, 61.35) == []
    assert told_of(60.1, 64.1) == []
    assert told_of(60.1, 61.1, 75.777, 76.777) == [4.0]  # two and two, two beats apart: no bar
    assert told_of(60.1, 60.603, 61.35) == [3.0]  # 3 ms beside the half beat
    assert told_of(60.1, 64.1025) == [2.0]
    assert told_of(60.1, 60.6, 61.35, 70.777) == [1.0]  # one that does not
    assert told_of(125.1, 125.6, 126.1, 127.1) == [4.0]  # where no click is


def loop_of(*places: SpliceClick, file: str = "Loop.wav", bpm: float = 120.0) -> list[Finding]:
    track = replace(CLICK, beats_s=tuple(60.0 / bpm * beat for beat in range(240)), bpm=bpm)
    whole = show(song("Night Ferry", stem(file, damage=clicks(*places)), click=track))
    return list(audit_with("splice-click", whole).all_findings())


def pops(*at_s: float) -> list[SpliceClick]:
    return [click(one, 26.0, size_dbfs=-38.0) for one in at_s]


FOUR_BARS_S = 16 * 60.0 / 86.0


@pytest.mark.parametrize(
    ("at_s", "file", "severity"),
    [
        ((9.286, 9.286 + FOUR_BARS_S, 9.286 + 2 * FOUR_BARS_S), "Loop.wav", "note"),
        ((9.286, 9.286 + FOUR_BARS_S, 9.286 + 5 * FOUR_BARS_S), "Loop.wav", "note"),  # muted in between
        ((9.286, 9.286 + FOUR_BARS_S, 9.28608 + 2 * FOUR_BARS_S), "Loop.wav", "note"),
        ((9.286, 9.286 + FOUR_BARS_S, 9.28615 + 2 * FOUR_BARS_S), "Loop.wav", "warning"),  # 0.15 ms beside
        ((9.286, 9.286 + FOUR_BARS_S), "Loop.wav", "warning"),  # two may be chance
        ((9.286, 9.286 + FOUR_BARS_S, 9.286 + 1.75 * FOUR_BARS_S), "Loop.wav", "note"),  # three bars on
        ((9.286, 9.286 + FOUR_BARS_S, 9.286 + 1.5625 * FOUR_BARS_S), "Loop.wav", "warning"),  # a beat beside
        ((9.286, 9.286 + FOUR_BARS_S, 9.286 + 2 * FOUR_BARS_S), "Bass.wav", "warning"),
    ],
)  # fmt: skip
def test_pops_that_come_back_with_the_loop_are_its_own(at_s: tuple[float, ...], file: str, severity: str):
    (one,) = loop_of(*pops(*at_s), file=file, bpm=86.0)
    assert one.severity.value == severity
    assert ("comes back with the loop" in one.message) is (severity == "note")
    assert one.measured["clicks"] == len(at_s)


def test_a_click_among_a_loop_s_own_pops_is_told_alone():
    own = pops(9.286, 9.286 + FOUR_BARS_S, 9.286 + 2 * FOUR_BARS_S)
    (one,) = loop_of(own[0], *pops(14.7), *own[1:], bpm=86.0)
    assert (one.severity.value, one.at_s, one.measured["clicks"]) == ("warning", pytest.approx(14.7), 1)


def leaking(leak_dbfs: float | None, peak_dbfs: float, *, of_click: bool = False) -> list[Finding]:
    """Blocks that play twice 12 ms into a pad, whose first second peaks there; what leaks has that level."""
    codes = bytes([round(240 + 2 * peak_dbfs)] * 10 + [220] * 590)
    pad = stem("Pad.wav", damage=repeats(repeat(0.012, 256), repeat(0.112, 192)))
    (one,) = pad.parts
    one = replace(
        one, measures=replace(one.measures, envelope=Envelope(bin_s=0.1, peaks=codes, levels=codes))
    )
    if leak_dbfs is not None:
        leak = Leak(level_dbfs=leak_dbfs, relative_db=-22.0, best_at_s=0.5, delay_ms=0.0, places=60)
        one = replace(one, **{"click_leak" if of_click else "timecode_leak": leak})
    whole = show(song("Night Ferry", replace(pad, parts=(one,)), click=CLICK))
    return list(audit_with("repeated-block", whole).all_findings())


@pytest.mark.parametrize(
    ("leak_dbfs", "peak_dbfs", "told"),
    [
        (-50.0, -50.0, False),  # the timecode's bits, alone in the count-in
        (-50.0, -44.0, False),
        (-50.0, -43.5, True),  # other sound is louder: it stutters
        (None, -50.0, True),
        (-61.0, -61.0, True),  # below what timecode-bleed tells
    ],
)
def test_the_bits_of_timecode_that_leaks_in_are_no_late_buffers(
    leak_dbfs: float | None, peak_dbfs: float, told: bool
):
    assert bool(leaking(leak_dbfs, peak_dbfs)) is told


def test_nor_are_a_click_s_ticks():
    assert not leaking(-40.0, -40.0, of_click=True)
    assert leaking(-40.0, -30.0, of_click=True)


def test_a_late_buffer_under_a_leak_is_told_with_its_own_place():
    """The first two are the code's; the third lies in the music."""
    codes = bytes([140] * 10 + [220] * 590)
    pad = stem("Pad.wav", damage=repeats(repeat(0.012, 256), repeat(0.112, 192), repeat(30.0, 128)))
    (one,) = pad.parts
    leak = Leak(level_dbfs=-50.0, relative_db=-22.0, best_at_s=0.5, delay_ms=0.0, places=60)
    measures = replace(one.measures, envelope=Envelope(bin_s=0.1, peaks=codes, levels=codes))
    pad = replace(pad, parts=(replace(one, measures=measures, timecode_leak=leak),))
    (found,) = audit_with("repeated-block", of(pad)).all_findings()
    assert (found.at_s, found.value, found.measured["blocks"]) == (pytest.approx(30.0), 128, 1)


@pytest.mark.parametrize(
    ("at_full", "longest", "told"),
    [
        (True, 12, False),  # the corners of clipped tops
        (True, 3, False),
        (True, 2, True),  # sample-clipping says nothing of the stem
        (False, 12, True),  # a cut elsewhere in a clipped stem
    ],
)
def test_the_corners_of_clipped_tops_are_no_splices(at_full: bool, longest: int, told: bool):
    place = replace(click(5.6, 55.0, size_dbfs=-26.0), at_full_scale=at_full)
    piano = stem("Piano.wav", damage=clicks(place), clipping={"runs": 40, "longest_frames": longest})
    assert bool(list(audit_with("splice-click", of(piano)).all_findings())) is told


def test_a_cut_beside_clipped_tops_is_told_with_its_own_place():
    corners = [replace(one, at_full_scale=True) for one in pops(5.6, 8.4, 17.6)]
    piano = stem(
        "Piano.wav",
        damage=clicks(*corners, *pops(33.0), count=60),
        clipping={"runs": 40, "longest_frames": 12},
    )
    (found,) = audit_with("splice-click", of(piano)).all_findings()
    assert (found.at_s, found.measured["clicks"]) == (pytest.approx(33.0), 1)


def test_what_clicks_in_a_full_mix_and_in_its_parts_is_told_of_them_alone():
    """A hi-hat that is choked, of which nothing is told in the drums: in the sum it is no splice either."""
    theirs, own = pops(12.2), pops(33.0)
    mix = stem("Full Mix.wav", damage=clicks(*theirs, *own))
    fit = PartsFit(
        stem="Full Mix.wav", explained=1.0, parts=("Drums.wav", "Bass.wav"), clicks=(theirs[0].at_frame,)
    )
    whole = song("Night Ferry", mix, stem("Drums.wav"), stem("Bass.wav"))
    (found,) = findings("splice-click", show(replace(whole, parts_fits=(fit,))))
    assert (found.at_s, found.measured["clicks"]) == (pytest.approx(33.0), 1)
    assert len(findings("splice-click", show(whole))) == 1
    alone = replace(fit, clicks=tuple(one.at_frame for one in (*theirs, *own)))
    assert not findings("splice-click", show(replace(whole, parts_fits=(alone,))))
