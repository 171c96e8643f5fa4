"""Songs whose stems lie beside their click all alike: the click is off, or all of them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Finding
from audit.results import Alignment, Elsewhere, Pulse
from audit.rules.places import habits, lie_off
from audit.rules.whole_song import another_tempo
from tests.evidence import findings, show, song, stem
from tests.rules.test_alignment import BAND, CLICK, band, tour
from tests.rules.test_arrangement import click
from tests.rules.test_beat_habits import ELSEWHERE, HERE
from tests.rules.test_foreign_stem import beat
from tests.rules.test_off_the_bar import GUITAR, turning


def of_song(rule: str, evidence: ShowEvidence, name: str = "Night Ferry") -> list[Finding]:
    return [one for one in findings(rule, evidence) if name in one.songs]


def late(by_ms: float, **but: float) -> SongEvidence:
    return band(
        "Night Ferry", {**dict.fromkeys(BAND, by_ms), **{f"{one}.wav": at for one, at in but.items()}}
    )


# Within the beat


@pytest.mark.parametrize(("off_ms", "told"), [(-19.9, False), (-20.0, True), (35.0, True), (19.9, False)])
def test_all_stems_off_their_roles_places(off_ms: float, told: bool):
    found = of_song("offset-from-click", tour(late(off_ms), others=5))
    assert bool(found) is told
    for one in found:
        assert (one.severity.value, one.stem, one.value) == ("warning", None, pytest.approx(off_ms))
        side = "after" if off_ms > 0.0 else "ahead of"
        assert one.message == (
            "all 4 stems (Drums.wav, Bass.wav, Guitar.wav, Keys.wav) play about "
            f"{abs(off_ms):.1f} ms {side} the click, past what their roles do in the other "
            "songs, alike: the click is off, or all stems are"
        )


@pytest.mark.parametrize(
    ("off_ms", "keys_ms", "severity"),
    [(35.0, 35.0, "warning"), (35.0, 38.9, "warning"), (35.0, 39.1, "note"), (43.0, 43.0, "note")],
)
def test_four_other_songs_make_it_a_note_unless_all_lie_close_together(
    off_ms: float, keys_ms: float, severity: str
):
    """Music that was cut by hand lies farther off, or not so closely together."""
    (one,) = of_song("offset-from-click", tour(late(off_ms, Keys=keys_ms), others=4))
    assert (one.stem, one.severity.value) == (None, severity)


def test_close_together_without_drums_is_a_note():
    whole = [
        replace(one, stems=tuple(stem for stem in one.stems if stem.name != "Drums.wav"))
        for one in (late(35.0), *(band(f"Other {number}") for number in range(4)))
    ]
    (one,) = of_song("offset-from-click", show(*whole))
    assert (one.stem, one.severity.value) == (None, "note")


def test_one_stem_that_stayed_is_not_in_it():
    """Three of four moved: the click, by three; the fourth is told by itself, against the others."""
    found = of_song("offset-from-click", tour(late(-40.0, Keys=0.0), others=5))
    whole = [one for one in found if one.stem is None]
    assert len(whole) == 1
    assert "3 stems (" in whole[0].message
    assert "play about 40.0 ms ahead of the click" in whole[0].message
    assert "(Drums.wav, Bass.wav, Guitar.wav)" in whole[0].message
    assert {one.stem for one in found} <= {None, "Keys.wav"}


@pytest.mark.parametrize(("slow_ms", "stayed"), [(0.0, True), (15.5, True), (-15.5, True), (16.5, False)])
def test_slow_stems_that_stay_on_the_click_are_named_and_not_told(slow_ms: float, stayed: bool):
    """Which of the two camps has moved nobody knows. Up to 0.4 of the way they have stayed."""
    slow = ("Pad.wav", "Strings.wav")

    def with_slow(name: str, moved: dict[str, float]) -> SongEvidence:
        return band(name, {**dict.fromkeys(slow, 0.0), **moved})

    others = [with_slow(f"Other {number}", {}) for number in range(5)]
    odd = with_slow("Night Ferry", {**dict.fromkeys(BAND, 40.0), **dict.fromkeys(slow, slow_ms)})
    (one,) = of_song("offset-from-click", show(odd, *others))
    assert one.stem is None
    assert "4 stems (" in one.message
    assert "play about 40.0 ms after the click" in one.message
    assert ("; Pad.wav, Strings.wav on it as ever: the click is off" in one.message) is stayed


@pytest.mark.parametrize(("off_ms", "off"), [(20.1, True), (19.9, False), (-20.1, True)])
def test_from_where_a_song_lies_off(off_ms: float, off: bool):
    assert ("Night Ferry" in lie_off(tour(late(off_ms), others=4))) is off


def test_a_song_lies_off_by_what_roles_differ_by():
    others = [band(f"Other {number}", dict.fromkeys(BAND, at)) for number, at in enumerate([-12, 0, 12] * 2)]
    assert not lie_off(show(late(25.0), *others))
    assert lie_off(show(late(60.0), *others)) == {"Night Ferry"}


def only(evidence: SongEvidence, *files: str) -> SongEvidence:
    stems = []
    for one in evidence.stems:
        phase = one.alignment.phase if one.alignment is not None else None
        if one.name in files and one.alignment is not None and phase is not None:
            against = tuple(other for other in phase.against if other.stem in files)
            alignment = replace(one.alignment, phase=replace(phase, against=against))
            stems.append(replace(one, alignment=alignment))
    return replace(evidence, stems=tuple(stems))


@pytest.mark.parametrize(
    ("files", "told"),
    [
        (("Drums.wav", "Bass.wav"), True),
        (("Guitar.wav", "Bass.wav"), False),  # two, and none that marks the beat
        (("Guitar.wav", "Bass.wav", "Keys.wav"), True),
        (("Drums.wav",), False),
    ],
)
def test_who_can_say_that_the_click_is_off(files: tuple[str, ...], told: bool):
    found = of_song("offset-from-click", tour(only(late(40.0), *files), others=5))
    assert bool([one for one in found if one.stem is None]) is told


def test_the_songs_behind_it_are_those_of_the_role_that_most_have():
    """Keys in three other songs, drums in five."""
    others = [
        only(band(f"Other {n}"), "Drums.wav", "Bass.wav", *(["Keys.wav"] if n < 3 else [])) for n in range(5)
    ]
    (one,) = of_song(
        "offset-from-click", show(only(late(40.0), "Drums.wav", "Bass.wav", "Keys.wav"), *others)
    )
    assert one.severity.value == "warning"


def test_a_song_whose_stems_share_another_tempo_is_told_of_that_alone():
    made = late(40.0)
    stems = (*made.stems, *(pulsing(file) for file in ("Loop.wav", "Choir.wav", "Organ.wav")))
    evidence = tour(replace(made, stems=stems, click=CLICK), others=5)
    assert not [one for one in of_song("offset-from-click", evidence) if one.stem is None]
    (one,) = of_song("drift-from-click", evidence)
    assert "beats a minute" in one.message


def test_two_camps_of_songs_say_nothing_of_one_another():
    camps = [band(f"Song {number}", dict.fromkeys(BAND, 45.0 * (number % 2))) for number in range(10)]
    assert lie_off(show(*camps)) == frozenset()
    one_more = show(*camps, band("Song 10", {}))
    assert lie_off(one_more) == {f"Song {number}" for number in (1, 3, 5, 7, 9)}


def test_drums_that_stay_on_the_click_are_not_overruled():
    """The others have left it: that says nothing of the click."""
    found = of_song("offset-from-click", tour(late(-40.0, Drums=0.0), others=5))
    assert all(one.stem is not None for one in found)


def test_stems_that_do_not_agree_say_nothing_of_the_click():
    found = of_song("offset-from-click", tour(late(-40.0, Keys=-60.0, Guitar=-20.0), others=5))
    assert all(one.stem is not None for one in found)


def test_stems_that_are_late_in_every_song_are_a_habit():
    every = [band(f"Song {number}", dict.fromkeys(BAND, 45.0)) for number in range(6)]
    assert not findings("offset-from-click", show(*every))


def test_roles_that_lie_anywhere_need_more():
    """The bound is twice what the roles differ by from song to song."""
    others = [band(f"Other {number}", dict.fromkeys(BAND, at)) for number, at in enumerate([-12, 0, 12] * 2)]
    assert not of_song("offset-from-click", show(late(25.0), *others))
    assert of_song("offset-from-click", show(late(60.0), *others))


def test_no_habits_are_learned_from_a_song_that_lies_off():
    evidence = tour(late(40.0), others=4)
    assert lie_off(evidence) == {"Night Ferry"}
    usual = habits(evidence, without="Other 0")[Role.DRUMS]
    assert (usual.songs, usual.click_ms) == (3, 0.0)


@pytest.mark.parametrize(("off_ms", "off"), [(30.0, False), (34.0, True)])
def test_among_roles_that_lie_anywhere_a_song_has_to_lie_farther_off_to_teach_no_habit(
    off_ms: float, off: bool
):
    """16 ms is what one more song is to be expected off by: twice that."""
    others = [band(f"Other {number}", dict.fromkeys(BAND, at)) for number, at in enumerate([-8, 0, 8] * 2)]
    evidence = show(late(off_ms), *others)
    assert ("Night Ferry" in lie_off(evidence)) is off
    assert habits(evidence, without="Other 0")[Role.BASS].songs == (5 if off else 6)


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize(("plain_ms", "off"), [(19.0, False), (21.0, True)])
def test_a_song_that_lies_nearer_to_its_click_than_the_others_do_is_not_the_odd_one(
    plain_ms: float, off: bool, way: float
):
    """All other songs lie 20 ms off theirs: half of the distance to them has to be its own."""
    others = [band(f"Other {number}", dict.fromkeys(BAND, -20.0 * way)) for number in range(5)]
    evidence = show(late(plain_ms * way), *others)
    assert ("Night Ferry" in lie_off(evidence)) is off
    assert bool(of_song("offset-from-click", evidence)) is off


# Half a beat


def struck(name: str, on_beat: float, **other: float) -> SongEvidence:
    made = band(name, dict.fromkeys(BAND, 0.0), on_beat=on_beat)
    stems = []
    for one in made.stems:
        value = other.get(one.name.removesuffix(".wav"))
        if value is not None and one.alignment is not None and one.alignment.phase is not None:
            phase = replace(one.alignment.phase, on_beat=value)
            one = replace(one, alignment=replace(one.alignment, phase=phase))
        stems.append(one)
    return replace(made, stems=tuple(stems), click=CLICK)


def others(on_beat: float = 0.5, songs: int = 4) -> list[SongEvidence]:
    return [struck(f"Other {number}", on_beat) for number in range(songs)]


def test_a_band_that_strikes_between_the_beats():
    (one,) = of_song("offset-from-click", show(struck("Night Ferry", -0.6), *others()))
    assert (one.severity.value, one.stem) == ("warning", None)
    assert abs(one.value or 0.0) == pytest.approx(250.0)
    assert "strike between the click's beats (Drums.wav, Bass.wav, Guitar.wav, Keys.wav)" in one.message
    assert "off by half a beat (250 ms)" in one.message
    assert one.advice.startswith("Listen to the music and the click together, Drums.wav first")


def test_chords_on_the_off_beats_lie_on_the_beats_then():
    (one,) = of_song("offset-from-click", show(struck("Night Ferry", -0.6, Keys=0.8), *others()))
    assert "(Drums.wav, Bass.wav, Guitar.wav)" in one.message


@pytest.mark.parametrize(
    "evidence",
    [
        pytest.param(show(struck("Night Ferry", -0.6, Drums=0.1), *others()), id="drums strike on them"),
        pytest.param(
            show(struck("Night Ferry", -0.6, Keys=0.1, Bass=-0.2), *others()), id="drums alone, keys on them"
        ),
        pytest.param(show(struck("Night Ferry", -0.2), *others()), id="hardly between them"),
        pytest.param(show(struck("Night Ferry", -0.6), *others(songs=3)), id="too few other songs"),
        pytest.param(
            show(struck("Night Ferry", -0.6), *others(), struck("Off Beat", -0.4)), id="another does so"
        ),
        pytest.param(
            show(struck("Night Ferry", 0.05, Keys=-0.6), *others()), id="one alone strikes between them"
        ),
    ],
)
def test_what_is_not_half_a_beat_off(evidence: ShowEvidence):
    assert not [one for one in of_song("offset-from-click", evidence) if one.stem is None]


@pytest.mark.parametrize(("on_beat", "told"), [(0.1, False), (0.09, True)])
def test_what_is_on_the_beats(on_beat: float, told: bool):
    evidence = show(struck("Night Ferry", -0.6, Drums=on_beat), *others())
    assert bool(of_song("offset-from-click", evidence)) is told


def test_chords_alone_between_the_beats_are_a_note():
    """A skank in a song whose drums and bass are played on stage."""
    made = struck("Night Ferry", -0.6)
    chords = [one for one in made.stems if one.name not in ("Drums.wav", "Bass.wav")]
    (one,) = of_song("offset-from-click", show(replace(made, stems=tuple(chords)), *others()))
    assert one.severity.value == "note"


def test_half_a_beat_is_told_to_the_nearer_side():
    made = struck("Night Ferry", -0.6)
    late_by = band("Night Ferry", dict.fromkeys(BAND, 40.0), on_beat=-0.6)
    for off_ms, expected in ((40.0, -210.0), (-40.0, 210.0)):
        late_by = band("Night Ferry", dict.fromkeys(BAND, off_ms), on_beat=-0.6)
        (one,) = of_song("offset-from-click", show(replace(made, stems=late_by.stems), *others()))
        assert one.value == pytest.approx(expected)


# Whole beats

AHEAD = (0.1, 0.1, 0.1, 0.7)
KEYS, PIANO = ("Keys.wav", Role.KEYS), ("Piano.wav", Role.PIANO)


def bars(*stems: StemEvidence, on_first: int = 3) -> list[Finding]:
    elsewhere = [song(name, GUITAR, click=click()) for name in ELSEWHERE[:on_first]]
    return [
        one
        for one in findings("shifted-by-beats", show(song(HERE, *stems, click=click()), *elsewhere))
        if HERE in one.songs
    ]


def test_music_a_beat_before_the_clicks_bars():
    (one,) = bars(turning(*KEYS, AHEAD), turning(*PIANO, AHEAD))
    assert (one.severity.value, one.stem, one.value) == ("warning", None, -1.0)
    assert one.message == (
        "the music lies 1 beat ahead of the click's bars: its chords turn on beat 4 of the bar (70%; "
        "Keys.wav, Piano.wav), in 3 other songs on the first: the click's accents are off, or all stems are"
    )


def test_music_a_beat_and_two_after_them():
    after = (0.1, 0.7, 0.1, 0.1)
    (one,) = bars(turning(*KEYS, after), turning(*PIANO, after))
    assert one.value == 1.0
    two = (0.1, 0.1, 0.7, 0.1)
    (one,) = bars(turning(*KEYS, two), turning(*PIANO, two))
    assert one.value == 2.0


def test_one_of_three_on_the_first_beat_does_not_keep_it():
    """A bass line that turns anywhere; half as many as turn with the others."""
    walking = turning("Bass.wav", Role.BASS, (0.5, 0.2, 0.2, 0.1))
    (one,) = [one for one in bars(turning(*KEYS, AHEAD), turning(*PIANO, AHEAD), walking) if one.stem is None]
    assert one.value == -1.0
    clear = turning("Guitar.wav", Role.GUITAR, (0.65, 0.2, 0.1, 0.05))
    assert not [
        one for one in bars(turning(*KEYS, AHEAD), turning(*PIANO, AHEAD), clear) if one.stem is None
    ]  # chords that push, beside one that does not
    two = turning("Organ.wav", Role.ORGAN, (0.4, 0.2, 0.2, 0.2))
    found = bars(turning(*KEYS, AHEAD), turning(*PIANO, AHEAD), walking, two)
    assert all(one.stem is not None for one in found)


@pytest.mark.parametrize(
    ("stems", "on_first"),
    [
        pytest.param((turning(*KEYS, AHEAD), turning(*PIANO, AHEAD)), 2, id="two other songs"),
        pytest.param(
            (turning(*KEYS, AHEAD), turning(*PIANO, (0.4, 0.2, 0.2, 0.2))), 3, id="one on the first"
        ),
        pytest.param((turning(*KEYS, AHEAD), turning(*PIANO, AHEAD, sure=1.9)), 3, id="one of them unsure"),
        pytest.param((turning(*KEYS, (0.21, 0.1, 0.1, 0.59)), turning(*PIANO, AHEAD)), 3, id="much on it"),
        pytest.param((turning(*KEYS, (0.25, 0.1, 0.16, 0.49)), turning(*PIANO, AHEAD)), 3, id="under half"),
    ],
)
def test_bars_that_do_not_say_so(stems: tuple[StemEvidence, ...], on_first: int):
    assert not [one for one in bars(*stems, on_first=on_first) if one.stem is None]


# Another tempo


def pulsing(file: str, fit: float = 0.95, on_click: float = 0.1, per_beat: float = 2.24) -> StemEvidence:
    pulse = Pulse(per_beat=per_beat, fit=fit, on_click=on_click, onsets=200)
    return replace(stem(file), alignment=Alignment(phase=None, drift=None, wrong_rate=None, pulse=pulse))


def playing(*stems: StemEvidence, name: str = "Night Ferry") -> SongEvidence:
    return song(name, stem("Click.wav"), *stems, click=CLICK)


def test_stems_of_another_tempo_than_their_click():
    (one,) = findings("drift-from-click", show(playing(pulsing("Drums.wav"), pulsing("Bass.wav"))))
    assert (one.severity.value, one.stem) == ("warning", None)
    assert one.value == pytest.approx((1.0 / 1.12 - 1.0) * 1e6)
    assert one.message == (
        "2 stems keep to 134.4 beats a minute or a multiple of it (Drums.wav, Bass.wav), and the "
        "click to 120.0: the click belongs to another song or version, or all stems do"
    )


def test_the_song_whose_click_it_is_is_named():
    """One of the same tempo and as many beats."""
    slower = replace(CLICK, bpm=119.9)
    shorter = replace(CLICK, beats_s=CLICK.beats_s[:-1])
    evidence = show(
        playing(pulsing("Drums.wav"), pulsing("Bass.wav")),
        *(replace(playing(name=name), click=one) for name, one in (("A", slower), ("B", shorter))),
        playing(name="Harbour"),
    )
    (one,) = findings("drift-from-click", evidence)
    assert "the click to 120.0, as that of Harbour does beat for beat" in one.message


@pytest.mark.parametrize(
    ("per_beat", "ratio"), [(1.01, 1.01), (2.02, 1.01), (4.04, 1.01), (7.2, 0.9), (1.4, 1.4), (1.45, 0.725)]
)
def test_the_nearest_tempo_is_named(per_beat: float, ratio: float):
    evidence = playing(*(pulsing(file, per_beat=per_beat) for file in ("Drums.wav", "Bass.wav")))
    tempo = another_tempo(evidence)
    assert tempo is not None
    assert tempo.ratio == pytest.approx(ratio)


@pytest.mark.parametrize("per_beat", [8.0, 4.003, 0.9992])
def test_the_clicks_own_tempo_is_no_other(per_beat: float):
    assert another_tempo(playing(*(pulsing(f"{one}.wav", per_beat=per_beat) for one in "AB"))) is None


@pytest.mark.parametrize(
    "stems",
    [
        pytest.param((pulsing("Drums.wav"),), id="one alone"),
        pytest.param((pulsing("Drums.wav"), pulsing("Bass.wav", fit=0.69)), id="one that hardly gathers"),
        pytest.param((pulsing("Drums.wav"), pulsing("Bass.wav", on_click=0.46)), id="one on the click too"),
        pytest.param(
            (pulsing("Drums.wav"), pulsing("Bass.wav"), pulsing("Keys.wav", 0.3), pulsing("Pad.wav", 0.3)),
            id="half of them",
        ),
    ],
)
def test_a_tempo_that_is_not_sure(stems: tuple[StemEvidence, ...]):
    assert not findings("drift-from-click", show(playing(*stems)))
    assert another_tempo(playing(*stems)) is None


def test_stems_are_not_given_to_other_songs_by_a_click_that_none_of_them_keeps():
    """One has some strokes on it by chance: then those of another may still be anywhere."""

    def bass(fit: float) -> StemEvidence:
        there = Elsewhere(song="Tin Roof", key=None, rhythm=beat(0.95))
        return replace(stem("Bass.wav"), rhythm=beat(fit), elsewhere=(there,))

    chance = replace(stem("Guitar.wav"), rhythm=beat(0.5))
    other = song("Tin Roof", stem("Bass.wav"), stem("Pad.wav"))
    at_home = show(song("Night Ferry", bass(0.1), chance), other)
    assert findings("foreign-stem", at_home)
    away = [replace(one, alignment=pulsing(one.name).alignment) for one in (bass(0.1), chance)]
    assert not findings("foreign-stem", show(song("Night Ferry", *away), other))


# What it takes away from single stems


def a_beat_late(evidence: SongEvidence) -> ShowEvidence:
    """The same song with keys whose chords turn on the second beat, beside a guitar on the first."""
    odd = turning(*KEYS, (0.05, 0.85, 0.05, 0.05), (0.25, 0.25, 0.25, 0.25))
    return tour(replace(evidence, stems=(*evidence.stems, odd, GUITAR)), others=5)


@pytest.mark.parametrize(("late_ms", "told"), [(0.0, True), (74.0, True), (75.0, False)])
def test_no_stem_is_told_a_beat_off_by_beats_that_lie_elsewhere(late_ms: float, told: bool):
    """0.15 of a beat, here of 500 ms."""
    evidence = a_beat_late(replace(late(late_ms), click=click()))
    found = of_song("shifted-by-beats", evidence)
    assert [one.stem for one in found] == (["Keys.wav"] if told else [])


def test_nor_where_the_click_has_another_tempo():
    made = replace(late(0.0), click=click())
    stems = (*made.stems, pulsing("Loop.wav"), pulsing("Choir.wav"))
    assert not of_song("shifted-by-beats", a_beat_late(replace(made, stems=stems)))


def test_two_stems_are_both():
    (one,) = of_song("offset-from-click", tour(only(late(40.0), "Drums.wav", "Bass.wav"), others=5))
    assert one.message.startswith("both stems (Drums.wav, Bass.wav) play about 40.0 ms after the click")
    assert "together, Drums.wav first: if it feels right, nothing is to be done." in one.advice
