"""swapped-stems: two stems of a song that carry each other's names."""

from __future__ import annotations

import math
from array import array
from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.facts import Role
from audit.results import Chroma, Elsewhere, Fingerprint, Onsets
from audit.rules.profile import BANDS, LEAST_SPREADS, Usual, leading_of, likeness, low_db, profile_of
from tests.evidence import audit_with, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_foreign_stem import beat

LOW = (0.0, -6.0, -12.0, -18.0, -24.0, -30.0, -36.0, -40.0)
HIGH = tuple(reversed(LOW))


def sounding(
    file: str, bands: tuple[float, ...], *, a_second: float = 2.0, tonal: float = 0.7, side_db: float = 6.0
) -> StemEvidence:
    """A stem with this profile. bands: dB, not yet relative to their sum."""
    total = sum(10 ** (db / 10) for db in bands)
    shares = [10 ** (db / 10) / total / 4 for db in bands for _ in range(4)]
    from math import log10

    made = stem(file, stereo={"mid_side_db": side_db}, activity={"active_s": 50.0})
    count = round(50 * a_second)
    measures = replace(
        made.parts[0].measures,
        fingerprint=Fingerprint(
            hop_s=0.1, words=array("I", [0]), spectrum_db=tuple(10 * log10(share) for share in shares)
        ),
        onsets=Onsets(times_s=array("d", range(count)), strengths_db=array("f", [6.0] * count)),
        chroma=Chroma(
            hop_s=0.1, classes=array("B"), levels=array("B"), tonal=tonal, tuning_cents=0.0, tuning_agreed=1.0
        ),
    )
    return replace(made, parts=(replace(made.parts[0], measures=measures),))


def bass(file: str = "Bass.wav", shift: float = 0.0) -> StemEvidence:
    return sounding(file, tuple(a + shift * (b - a) for a, b in zip(LOW, HIGH, strict=True)))


def keys(file: str = "Keys.wav", shift: float = 0.0) -> StemEvidence:
    return bass(file, 1.0 - shift)


def high(file: str) -> StemEvidence:
    """Like no bass in anything."""
    return sounding(file, HIGH, a_second=9.0, tonal=0.1, side_db=-3.0)


def louder(made: StemEvidence) -> StemEvidence:
    measures = made.parts[0].measures
    levels = replace(measures.levels, rms_dbfs=measures.levels.rms_dbfs + 6.0)
    return replace(made, parts=(replace(made.parts[0], measures=replace(measures, levels=levels)),))


def the_show(first: StemEvidence, second: StemEvidence, others: int = 5) -> ShowEvidence:
    usual = [song(f"Song {n}", bass(), keys()) for n in range(others)]
    return show(*usual, song("Odd", first, second))


def drums_and_bass(swapped: bool) -> ShowEvidence:
    """Alike in their bands: the onsets and the tones tell them apart."""
    songs = [
        song(f"{n}", sounding("Bass.wav", LOW), sounding("Drums.wav", LOW, a_second=6.0, tonal=0.1))
        for n in range(5)
    ]
    odd = sounding("Bass.wav", LOW, a_second=6.0, tonal=0.1), sounding("Drums.wav", LOW)
    return show(*songs, *([song("Odd", *odd)] if swapped else []))


def alike(share: float) -> ShowEvidence:
    """Two roles little apart, and a song whose stems lie so far on the way from their own to the other."""
    far = 0.125
    usual = [song(f"Song {n}", bass(), bass("Keys.wav", far)) for n in range(5)]
    return show(*usual, song("Odd", bass(shift=share * far), bass("Keys.wav", (1.0 - share) * far)))


CASES: dict[str, tuple[Case, ...]] = {
    "swapped-stems": (
        planted(
            "bass and keys",
            the_show(keys("Bass.wav"), bass("Keys.wav")),
            Expected(
                stem="Bass.wav",
                songs=("Odd",),
                says=("sounds like the keys of this show, and Keys.wav like the bass",),
                facts={"second": "Keys.wav"},
            ),
        ),
        planted(
            "drums and bass of one spectrum",
            drums_and_bass(swapped=True),
            Expected(stem="Drums.wav", facts={"second": "Bass.wav"}),
        ),
        planted(
            "not quite like them",
            the_show(keys("Bass.wav", 0.2), bass("Keys.wav", 0.2)),
            Expected(stem="Bass.wav"),
        ),
        clean("as they should be", the_show(bass(), keys())),
        clean("drums and bass as they should be", drums_and_bass(swapped=False)),
        clean("a bass that plays high, beside keys", the_show(keys("Bass.wav"), keys())),
        clean("both in the middle", the_show(bass(shift=0.5), keys(shift=0.5))),
        clean("too few songs", the_show(keys("Bass.wav"), bass("Keys.wav"), others=3)),
        clean(
            "roles that are alike in this show",
            show(
                *[song(f"{n}", bass(shift=n % 2), keys(shift=n % 2)) for n in range(6)],
                song("Odd", keys("Bass.wav"), bass("Keys.wav")),
            ),
        ),
        planted(
            "each role in other songs",
            show(
                *[song(f"Bass {n}", bass()) for n in range(4)],
                *[song(f"Keys {n}", keys()) for n in range(4)],
                song("Odd", keys("Bass.wav"), bass("Keys.wav")),
            ),
            Expected(stem="Bass.wav", facts={"second": "Keys.wav"}),
        ),
        clean(
            "each role in other songs, not by enough",
            show(
                *[song(f"Bass {n}", bass()) for n in range(4)],
                *[song(f"Keys {n}", keys()) for n in range(4)],
                song("Odd", bass(shift=0.56), bass("Keys.wav", 0.44)),
            ),
        ),
        planted(
            "a softer stem of its role",
            show(
                *[song(f"Song {n}", bass(), keys()) for n in range(5)],
                song("Odd", keys("Bass.wav"), bass("Keys 2.wav"), louder(keys("Keys 1.wav"))),
            ),
            Expected(stem="Bass.wav", facts={"second": "Keys 2.wav"}),
        ),
        planted(
            "bass alone tells: strings are in no other song",
            the_show(high("Bass.wav"), bass("Strings.wav")),
            Expected(
                stem="Bass.wav",
                says=(
                    "does not sound like the bass",
                    "Strings.wav does",
                    "much more like those in the other songs",
                ),
                facts={"second": "Strings.wav"},
            ),
        ),
        clean(
            "a second bass like no other, the louder one in its place",
            show(
                *[song(f"Song {n}", bass(), keys()) for n in range(5)],
                song("Odd", high("Bass 2.wav"), louder(bass("Bass 1.wav")), bass("Strings.wav")),
            ),
        ),
        clean("strings that play low, beside a bass", the_show(bass(), bass("Strings.wav"))),
        clean("a strange bass beside strange strings", the_show(high("Bass.wav"), keys("Strings.wav"))),
        clean(
            "keys do not tell alone",
            show(
                *[song(f"Song {n}", keys()) for n in range(5)],
                song("Odd", bass("Keys.wav"), keys("Strings.wav")),
            ),
        ),
        clean("a name that says nothing", the_show(keys("Audio 1.wav"), bass("Keys.wav"))),
        clean("one like the other's role, the other at home", the_show(keys("Bass.wav"), keys(shift=0.45))),
        at_limit("a little under", alike(0.68)),
        past_limit("clearly nearer to the other", alike(0.7), Expected(stem="Bass.wav")),
        clean(
            "each nearer to the other, and far from both: strange sounds",
            the_show(bass(shift=0.77), keys(shift=0.77)),
        ),
        planted(
            "half of the distance is left",
            the_show(bass(shift=0.78), keys(shift=0.78)),
            Expected(stem="Bass.wav"),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_only_where_five_songs_have_both():
    asked = audit_with("swapped-stems", the_show(keys("Bass.wav"), bass("Keys.wav"), others=3))
    assert asked.not_applicable == {"swapped-stems": 4}


def test_the_profile_says_what_the_stem_is():
    found = profile_of(sounding("Bass.wav", LOW, a_second=3.75, tonal=0.4, side_db=12.0).parts[0])
    assert found is not None
    assert len(found) == len(LEAST_SPREADS) == BANDS + 3
    assert found[0] - found[1] == pytest.approx(6.0)
    assert found[BANDS:] == (pytest.approx(2.0, abs=0.01), 0.4, -12.0)  # log2(0.25 + 3.75)


def test_the_gain_turns_its_sign_when_the_stems_are_exchanged():
    one, other = (profile_of(made.parts[0]) for made in (bass(), keys()))
    assert one is not None
    assert other is not None
    as_named = likeness(one, other, Usual.of([one] * 4), Usual.of([other] * 4))
    exchanged = likeness(other, one, Usual.of([one] * 4), Usual.of([other] * 4))
    assert as_named.gain == pytest.approx(-exchanged.gain)
    assert exchanged.gain > 0


def test_a_stem_that_was_not_measured_has_no_profile():
    assert profile_of(stem("Bass.wav").parts[0]) is None


def test_drums_tell_alone_the_farther_the_other_is_from_them():
    """The other lies within 1.5 of them, or within a fifth of what the stem of their name does."""
    usual = [song(f"Song {n}", sounding("Drums.wav", LOW, a_second=6.0, tonal=0.1)) for n in range(5)]
    no_drums = sounding("Drums.wav", HIGH, tonal=1.0, a_second=1.0, side_db=-6.0)

    def told(pad: StemEvidence, drums: StemEvidence = no_drums) -> bool:
        return bool(list(audit_with("swapped-stems", show(*usual, song("Odd", drums, pad))).all_findings()))

    assert told(sounding("Pad.wav", LOW, a_second=6.0, tonal=0.1))
    assert told(sounding("Pad.wav", LOW, a_second=18.0, tonal=0.1, side_db=-10.0))  # 1.7: wide, and busier
    assert not told(sounding("Pad.wav", LOW, a_second=24.0, tonal=0.6, side_db=-10.0))
    nearly = sounding("Drums.wav", LOW, a_second=1.5, tonal=0.3)
    assert not told(sounding("Pad.wav", LOW, a_second=6.0, tonal=0.1), nearly)


def test_more_is_asked_where_no_five_songs_have_both_roles():
    """Two roles a little apart, exchanged: told where five songs have both, not where each has its own."""
    far = 0.125
    odd = song("Odd", bass(shift=far), bass("Keys.wav"))
    together = show(*(song(f"{n}", bass(), bass("Keys.wav", far)) for n in range(5)), odd)
    basses = (song(f"Bass {n}", bass()) for n in range(5))
    apart = show(*basses, *(song(f"Keys {n}", bass("Keys.wav", far)) for n in range(5)), odd)
    (told,) = audit_with("swapped-stems", together).all_findings()
    assert told.value is not None
    assert 1.0 < told.value < 3.0
    assert not list(audit_with("swapped-stems", apart).all_findings())


def test_more_is_asked_of_a_stem_that_is_not_the_loudest_of_its_role():
    """As above, in five songs that have both; but the song's keys are another, louder stem."""
    far = 0.125
    usual = [song(f"{n}", bass(), bass("Keys.wav", far)) for n in range(5)]
    odd = song("Odd", bass(shift=far), bass("Keys 2.wav"), louder(bass("Keys 1.wav", far)))
    assert not list(audit_with("swapped-stems", show(*usual, odd)).all_findings())


def strangely(low: str, busy: str, off_db: float, songs: int = 5) -> ShowEvidence:
    """Two roles that onsets and tones tell apart, exchanged in a song where both sound strange: every other
    band is so much louder."""
    busily: dict[str, float] = {"a_second": 6.0, "tonal": 0.1}
    odd = tuple(db + off_db * (n % 2) for n, db in enumerate(LOW))
    usual = [song(f"{n}", sounding(low, LOW), sounding(busy, LOW, **busily)) for n in range(songs)]
    return show(*usual, song("Odd", sounding(low, odd, **busily), sounding(busy, odd)))


@pytest.mark.parametrize(
    ("low", "busy", "off_db", "told"),
    [
        ("Bass.wav", "Drums.wav", 14.0, True),  # 0.46 of the distance is left,
        ("Bass.wav", "Drums.wav", 15.5, True),  # 0.51,
        ("Bass.wav", "Drums.wav", 20.0, True),  # 0.64,
        ("Bass.wav", "Drums.wav", 21.0, False),  # 0.66
        ("Bass.wav", "Keys.wav", 14.0, True),
        ("Bass.wav", "Keys.wav", 15.5, False),
    ],
)
def test_strange_drums_and_basses_are_told_where_they_surely_fit_better(
    low: str, busy: str, off_db: float, told: bool
):
    assert bool(list(audit_with("swapped-stems", strangely(low, busy, off_db)).all_findings())) is told


@pytest.mark.parametrize(("others", "told"), [(2, False), (3, True)])
def test_drums_and_bass_are_known_from_three_other_songs(others: int, told: bool):
    found = audit_with("swapped-stems", strangely("Bass.wav", "Drums.wav", 0.0, songs=others))
    assert bool(list(found.all_findings())) is told
    same = audit_with("swapped-stems", strangely("Bass.wav", "Keys.wav", 0.0, songs=3))
    assert not list(same.all_findings())


def told_of_drums(named: float, other: float, a_second: float = 20.0) -> bool:
    """Drums of so much tone, beside a pad of so much, which is wider and busier than the show's drums."""
    usual = [song(f"Song {n}", sounding("Drums.wav", LOW, a_second=6.0, tonal=0.1)) for n in range(5)]
    drums = sounding("Drums.wav", HIGH, tonal=named, a_second=1.0, side_db=-6.0)
    pad = sounding("Pad.wav", LOW, a_second=a_second, tonal=other, side_db=-12.0)
    return bool(list(audit_with("swapped-stems", show(*usual, song("Odd", drums, pad))).all_findings()))


@pytest.mark.parametrize(
    ("named", "other", "told"),
    [
        (0.6, 0.45, True),
        (0.59, 0.45, False),
        (0.6, 0.46, False),
        (1.0, 0.1, True),
    ],
)
def test_drums_that_are_all_tones_beside_what_is_none_need_not_sound_like_the_shows_drums(
    named: float, other: float, told: bool
):
    assert told_of_drums(named, other) is told


def told_of_bass(
    named: tuple[float, ...],
    other: tuple[float, ...],
    file: str = "Brass.wav",
    tonal: float = 0.7,
    a_second: float = 2.0,
) -> bool:
    usual = [song(f"Song {n}", sounding("Bass.wav", with_lows(-5.0), side_db=30.0)) for n in range(5)]
    one = sounding("Bass.wav", named, a_second=6.0, side_db=-3.0)
    strange = sounding(file, other, a_second=a_second, tonal=tonal, side_db=3.0)
    return bool(list(audit_with("swapped-stems", show(*usual, song("Odd", one, strange))).all_findings()))


def with_lows(
    low_db: float, rest: tuple[float, ...] = (-6.0, -12.0, -18.0, -24.0, -30.0, -36.0)
) -> tuple[float, ...]:
    """Bands of which the two lowest hold so much of the whole."""
    share = 10 ** (low_db / 10)
    power = sum(10 ** (db / 10) for db in rest)
    scaled = tuple(db + 10 * math.log10((1 - share) / power) for db in rest)
    return (low_db - 3.0103, low_db - 3.0103, *scaled)


@pytest.mark.parametrize(
    ("named_db", "other_db", "told"),
    [(-20.0, -8.9, True), (-20.0, -9.1, False), (-9.1, -1.0, True), (-8.9, -1.0, False)],
)
def test_a_bass_without_lows_beside_what_has_them(named_db: float, other_db: float, told: bool):
    highs = (-30.0, -30.0, -24.0, -18.0, -6.0, 0.0)
    a_second = 2.0 if other_db > -8.0 else 6.0  # as far from the show's basses
    assert told_of_bass(with_lows(named_db, highs), with_lows(other_db), a_second=a_second) is told


@pytest.mark.parametrize(
    ("file", "tonal", "told"),
    [
        ("Perc.wav", 0.59, False),
        ("Perc.wav", 0.61, True),
        ("Drums.wav", 0.3, False),
        ("Brass.wav", 0.58, True),
    ],
)
def test_what_is_struck_has_its_lows_of_its_own_unless_it_plays_notes(file: str, tonal: float, told: bool):
    assert told_of_bass(HIGH, with_lows(-1.0), file, tonal) is told


def test_what_is_low_in_a_profile():
    low = profile_of(sounding("Bass.wav", with_lows(-5.0)).parts[0])
    assert low is not None
    assert low_db(low) == pytest.approx(-5.0, abs=0.01)


@pytest.mark.parametrize(("a_second", "told"), [(6.0, True), (8.0, False)])
def test_what_has_lows_is_no_bass_where_it_lies_far_from_them(a_second: float, told: bool):
    """2.4 and 2.9 spreads² from the show's basses, the one of that name 11.2."""
    named = with_lows(-20.0, (-30.0, -30.0, -24.0, -18.0, -6.0, 0.0))
    assert told_of_bass(named, with_lows(-8.9), a_second=a_second) is told


@pytest.mark.parametrize("foreign", [True, False])
def test_what_belongs_to_another_song_tells_no_role(foreign: bool):
    """Keys of another song, unlike these, stand in one song: they are none of what keys are here."""
    there = Elsewhere(song="Song 0", key=None, rhythm=beat(0.9))
    odd = replace(high("Keys.wav"), rhythm=beat(0.1), elsewhere=(there,)) if foreign else high("Keys.wav")
    others = [song(f"Song {n}", bass(), replace(keys(), rhythm=beat(0.9))) for n in range(4)]
    whole = show(*others, song("Odd", replace(bass(), rhythm=beat(0.9)), odd))
    assert ("Odd" in leading_of(whole)[Role.KEYS]) is not foreign
    assert set(leading_of(whole)[Role.BASS]) == {"Odd", *(f"Song {n}" for n in range(4))}
