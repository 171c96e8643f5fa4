"""Half beats: what tells a place from the same place half a beat on, and what the report says of it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.results import ClickRun, ClickTrack, MeetingLag
from audit.rules.alignment_words import _farther
from audit.rules.half_beats import told_apart
from audit.rules.rule import MINUS
from tests.evidence import findings, show
from tests.rules.test_alignment import band
from tests.rules.test_arrangement import shifted

CLICK = ClickTrack(
    beats_s=tuple(0.5 * k for k in range(121)), accents=(True, False, False, False) * 30 + (True,),
    runs=(ClickRun(first_beat=0, beats=121, bpm_first=120.0, bpm_last=120.0, steady=True),), bpm=120.0,
    metre="4/4", count_in_beats=4, first_beat_s=0.0,
)  # fmt: skip
"""Half a beat is 250 ms."""


def striking(name: str, offsets: dict[str, float] | None = None, **on_beat: float) -> SongEvidence:
    """A song whose stems strike on the beats, or as told: 1 on them, −1 between them."""
    made = band(name, offsets)
    stems = []
    for stem in made.stems:
        place = stem.alignment
        if place is not None and place.phase is not None:
            strikes = on_beat.get(stem.name.removesuffix(".wav"), 0.6)
            stem = replace(
                stem,
                alignment=replace(
                    place,
                    phase=replace(
                        place.phase,
                        on_beat=strikes,
                        half_later_ms=place.phase.offset_ms + 250.0,
                        half_earlier_ms=place.phase.offset_ms - 250.0,
                    ),
                ),
            )
        stems.append(stem)
    return replace(made, stems=tuple(stems), click=CLICK)


def with_harmony(song: SongEvidence, file: str, **fits: float) -> SongEvidence:
    beats = shifted(file, 0.0, at_best=0.3, **fits).alignment
    assert beats is not None
    return replace(song, stems=tuple(
        replace(stem, alignment=replace(stem.alignment, beats=beats.beats))
        if stem.name == file and stem.alignment is not None else stem
        for stem in song.stems
    ))  # fmt: skip


def tour(song: SongEvidence, *, others: int = 4, **on_beat: float) -> ShowEvidence:
    return show(song, *(striking(f"Other {number}", **on_beat) for number in range(others)))


def told(song: SongEvidence, file: str, off_ms: float, **more: Any):
    stem = next(one for one in song.stems if one.name == file)
    return told_apart(stem, song, tour(song, **more), off_ms)


@pytest.mark.parametrize(
    ("fits", "places", "half"),
    [
        ({"at_zero": 0.1, "half_late": 0.3, "half_early": 0.1}, (240.0,), True),
        ({"at_zero": 0.1, "half_late": 0.1, "half_early": 0.3}, (-260.0,), True),
        ({"at_zero": 0.3, "half_late": 0.1, "half_early": 0.1}, (-10.0,), False),
    ],
)
def test_harmony_tells(fits: dict[str, float], places: tuple[float, ...], half: bool):
    found = told(with_harmony(striking("Night Ferry"), "Keys.wav", **fits), "Keys.wav", -10.0)
    assert (found.places_ms, found.by, found.part) == (places, "harmony", "half a beat" if half else "")


@pytest.mark.parametrize("half_late", [0.079, 0.114, 0.21])
def test_faint_or_equal_harmony_does_not(half_late: float):
    """Below 0.08; less than 1.15 times as good; less than 0.03 better."""
    zero = {0.079: 0.0, 0.114: 0.1, 0.21: 0.195}[half_late]
    fits = {"at_zero": zero, "half_late": half_late, "half_early": 0.0}
    found = told(with_harmony(striking("Night Ferry"), "Keys.wav", **fits), "Keys.wav", -10.0)
    assert (found.places_ms, found.by) == ((-10.0, 240.0, -260.0), "nothing")


@pytest.mark.parametrize(
    ("late", "early", "zero", "places"),
    [
        (0.102, 0.1, 0.042, (-10.0, 240.0, -260.0)),  # half a beat late or early alike: it is something else
        (0.111, 0.05, 0.09, (-10.0, 240.0, -260.0)),
        (0.14, 0.1, 0.042, (240.0,)),
        (0.1, 0.14, 0.042, (-260.0,)),
    ],
)
def test_half_a_beat_is_told_where_one_side_of_it_stands_out(
    late: float, early: float, zero: float, places: tuple[float, ...]
):
    fits = {"at_zero": zero, "half_late": late, "half_early": early}
    assert (
        told(with_harmony(striking("Night Ferry"), "Keys.wav", **fits), "Keys.wav", -10.0).places_ms == places
    )


@pytest.mark.parametrize(
    ("quarters", "other_ms"),
    [((0.2, 0.35, 0.16, 0.29), 90.0), ((0.3, 0.3, 0.3, 0.1), 90.0), ((0.31, 0.3, 0.3, 0.09), None)],
)
def test_chords_cannot_tell_one_sixteenth_from_the_next(
    quarters: tuple[float, float, float, float], other_ms: float | None
):
    """A synth that plays them, 90 ms late, looks 35 ms early, with its chords where they are."""
    fits = {"at_zero": 0.32, "half_late": 0.19, "half_early": 0.22}
    song = with_harmony(with_quarters(striking("Night Ferry"), Keys=quarters), "Keys.wav", **fits)
    found = told(song, "Keys.wav", -35.0)
    assert (found.by, found.places_ms, found.sixteenth_ms) == ("harmony", (-35.0,), other_ms)
    said = _farther((), found)
    assert said == ("+90 ms would look the same, as it plays sixteenths" if other_ms is not None else "")


@pytest.mark.parametrize(
    ("file", "off_ms", "other_ms"),
    [
        ("Drums.wav", -35.0, 90.0),  # 120 beats a minute: a sixteenth is 125 ms
        ("Drums.wav", 40.0, -85.0),
        ("Drums.wav", -31.0, None),  # +94 ms is more than three times as far
        ("Keys.wav", -35.0, None),
    ],
)
def test_drums_may_be_a_sixteenth_off(file: str, off_ms: float, other_ms: float | None):
    """Sixteenths that are 90 ms late strike where those 35 ms early would."""
    song = striking("Night Ferry", Drums=0.0)
    found = told(song, file, off_ms)
    assert (found.by, found.sixteenth_ms) == ("nothing", other_ms)
    eighths = replace(song, click=replace(CLICK, metre="6/8"))
    assert told(eighths, file, off_ms).sixteenth_ms is None


def test_a_sixteenth_off_is_named_in_the_cure():
    song = striking("Night Ferry", {"Drums.wav": -35.0}, Drums=0.0)
    said = [found.advice for found in findings("offset-from-click", tour(song)) if found.stem == "Drums.wav"]
    assert "+215 or −285 ms would look the same, and so would +90 ms if it plays sixteenths." in said[0]


def test_where_drums_strike_tells():
    found = told(striking("Night Ferry", Drums=-0.5), "Drums.wav", -10.0)
    assert (found.places_ms, found.by, found.part) == ((240.0, -260.0), "strokes", "half a beat")
    as_it_is = told(striking("Night Ferry"), "Drums.wav", -10.0)
    assert (as_it_is.places_ms, as_it_is.by, as_it_is.part) == ((-10.0,), "strokes", "")


@pytest.mark.parametrize(
    ("own", "file", "show"),
    [
        (-0.29, "Drums.wav", {}),
        (-0.9, "Keys.wav", {}),
        (-0.9, "Drums.wav", {"Drums": 0.09}),
        (-0.9, "Drums.wav", {"others": 2}),
    ],
    ids=["hardly between them", "keys play off-beats", "drums that do so elsewhere", "two other songs"],
)
def test_strokes_that_tell_nothing(own: float, file: str, show: dict[str, Any]):
    song = striking("Night Ferry", **{file.removesuffix(".wav"): own})
    assert told(song, file, -10.0, **show).by == "nothing"


def with_lags(song: SongEvidence, file: str, *lags: tuple[float, float]) -> SongEvidence:
    """Its strokes meet the others' at these lags (ms, height)."""
    found = tuple(MeetingLag(lag_ms=ms, height=height) for ms, height in lags)
    return replace(song, stems=tuple(
        replace(one, alignment=replace(one.alignment, phase=replace(one.alignment.phase, lags=found)))
        if one.name == file and one.alignment is not None and one.alignment.phase is not None else one
        for one in song.stems
    ))  # fmt: skip


@pytest.mark.parametrize(
    ("lags", "places"),
    [
        (((0.0, 0.3), (130.0, 0.28), (250.0, 0.26)), (-10.0, 120.0)),
        (((0.0, 0.3), (20.0, 0.3), (250.0, 0.1)), (-10.0, 240.0, -260.0)),  # none: half beats look the same
        (
            ((0.0, 0.3), (130.0, 0.29), (-130.0, 0.275), (250.0, 0.28), (-250.0, 0.285), (375.0, 0.295)),
            (-10.0, 120.0, -260.0, 365.0),
        ),
    ],
)
def test_where_nothing_tells_the_lags_at_which_as_many_meet_are_named(
    lags: tuple[tuple[float, float], ...], places: tuple[float, ...]
):
    """The best three of those with nine tenths of the meetings; drums that may play anything."""
    found = told(with_lags(striking("Night Ferry", Drums=0.0), "Drums.wav", *lags), "Drums.wav", -10.0)
    assert (found.by, found.places_ms) == ("nothing", places)


def test_of_two_half_beats_the_one_that_meets_more_is_named_first():
    song = striking("Night Ferry", Drums=-0.5)
    lags = ((130.0, 0.4), (245.0, 0.2), (-262.0, 0.3))
    found = told(with_lags(song, "Drums.wav", *lags), "Drums.wav", -10.0)
    assert (found.by, found.places_ms) == ("strokes", (-272.0, 235.0))


def test_in_swung_songs_half_a_beat_is_what_the_onsets_say():
    song = striking("Night Ferry")
    keys = next(one for one in song.stems if one.name == "Keys.wav")
    assert keys.alignment is not None
    assert keys.alignment.phase is not None
    swung = replace(keys.alignment.phase, half_later_ms=310.0, half_earlier_ms=None)
    for phase, places in ((replace(swung, half_earlier_ms=-190.0), (12.0, -178.0, 322.0)), (swung, (12.0,))):
        stem = replace(keys, alignment=replace(keys.alignment, phase=phase))
        assert told_apart(stem, song, tour(song), 12.0).places_ms == places


def test_the_size_is_the_one_that_harmony_says():
    song = striking("Night Ferry", {"Keys.wav": -30.0})
    song = with_harmony(song, "Keys.wav", at_zero=0.1, half_late=0.3, half_early=0.1)
    (found,) = findings("offset-from-click", tour(song))
    assert found.severity is Severity.ERROR
    assert found.value == pytest.approx(220.0)
    assert found.message.startswith("late by about 220.0 ms (10\u00a0560 samples) against the keys")
    assert "half a beat by its chords, and −30 ms within it" in found.message
    assert "listen first" not in found.again
    assert "Move it about 10\u00a0560 samples (220.0 ms) earlier" in found.advice


def test_what_cannot_be_told_is_left_open():
    (found,) = findings("offset-from-click", tour(striking("Night Ferry", {"Keys.wav": -30.0})))
    assert found.value == pytest.approx(-30.0)
    assert found.advice.startswith("Listen first: +220 or −280 ms would look the same. Move it about")
    # Who makes the new bounce reads this and not the report.
    assert found.again.startswith("about 30.0 ms later (1440 samples), from bar 1")
    assert found.again.endswith("; listen first: +220 or −280 ms would look the same")


def test_drums_exactly_half_a_beat_off_are_a_warning():
    (found,) = findings("offset-from-click", tour(striking("Night Ferry", Drums=-0.6)))
    assert (found.severity, found.stem) == (Severity.WARNING, "Drums.wav")
    assert "about half a beat off" in found.message
    assert "12000 samples" in found.advice


def test_strokes_between_the_beats_are_written_so_where_the_chords_say_that_they_stand_right():
    odd = striking("Night Ferry", {"Bass.wav": 0.0}, Bass=-0.9)
    assert findings("offset-from-click", tour(odd))
    right = with_harmony(odd, "Bass.wav", at_zero=0.3, half_late=0.1, half_early=0.05)
    assert not findings("offset-from-click", tour(right))


def test_a_bass_exactly_half_a_beat_off_may_be_written_so():
    """By its strokes alone: off-beat basses are common. Harmony that says so is no habit of style."""
    (found,) = findings("offset-from-click", tour(striking("Night Ferry", Bass=-0.6)))
    assert (found.severity, found.stem) == (Severity.NOTE, "Bass.wav")
    assert "An off-beat bass is written so" in found.advice
    odd = with_harmony(
        striking("Night Ferry", Bass=-0.6), "Bass.wav", at_zero=0.1, half_late=0.3, half_early=0.1
    )
    (found,) = findings("offset-from-click", tour(odd))
    assert found.severity is Severity.WARNING
    assert "written" not in found.advice


@pytest.mark.parametrize(
    ("off_ms", "quarters", "told"),
    [
        (125.0, (0.75, 0.0, 0.0, 0.25), False),  # on the beat as well, as it stands
        (125.0, (0.76, 0.0, 0.0, 0.24), True),
        (125.0, (0.75, 0.25, 0.0, 0.0), True),  # that would be the beat of one that is early
        (-125.0, (0.75, 0.25, 0.0, 0.0), False),
        (110.0, (0.6, 0.0, 0.0, 0.4), True),  # no quarter of 500 ms
    ],
)
def test_a_bass_on_the_beat_and_a_sixteenth_after_it_plays_a_figure(
    off_ms: float, quarters: tuple[float, float, float, float], told: bool
):
    odd = replace(band("Night Ferry", {"Bass.wav": off_ms}, on_beat=0.95, quarters=quarters), click=CLICK)
    found = findings("offset-from-click", tour(odd))
    assert [one.stem for one in found] == (["Bass.wav"] if told else [])


@pytest.mark.parametrize(
    ("off_ms", "quarters", "told"),
    [
        (125.0, (0.4, 0.12, 0.22, 0.26), False),  # a sixteenth later it strikes where it did
        (-135.0, (0.3, 0.1, 0.3, 0.3), False),
        (125.0, (0.41, 0.11, 0.39, 0.09), True),  # one of the four is hardly struck
        (110.0, (0.25, 0.25, 0.25, 0.25), True),  # no quarter of 500 ms
        (20.0, (0.25, 0.25, 0.25, 0.25), True),
    ],
)
def test_sixteenths_all_through_tell_no_displacement_of_a_sixteenth(
    off_ms: float, quarters: tuple[float, float, float, float], told: bool
):
    odd = replace(band("Night Ferry", {"Keys.wav": off_ms}, on_beat=0.3, quarters=quarters), click=CLICK)
    found = findings("offset-from-click", tour(odd))
    assert [one.stem for one in found] == (["Keys.wav"] if told else [])


@pytest.mark.parametrize(
    ("off_ms", "on_beat", "quarters", "told"),
    [
        (-161.0, 0.0, (0.33, 0.0, 0.33, 0.34), False),  # a swung sixteenth
        (-125.0, 0.1, (0.33, 0.0, 0.33, 0.34), False),
        (125.0, 0.0, (0.5, 0.3, 0.1, 0.1), False),
        (-161.0, 0.11, (0.33, 0.0, 0.33, 0.34), True),  # it strikes the beat as it stands, too
        (-161.0, 0.0, (0.5, 0.0, 0.41, 0.09), True),  # two quarters
        (-110.0, 0.0, (0.33, 0.0, 0.33, 0.34), True),  # less than a quarter,
        (-180.0, 0.0, (0.33, 0.0, 0.33, 0.34), True),  # more than a third, and 12 ms
    ],
)
def test_a_funk_figure_that_leaves_the_beat_out_tells_no_displacement_of_a_sixteenth(
    off_ms: float, on_beat: float, quarters: tuple[float, float, float, float], told: bool
):
    odd = replace(band("Night Ferry", {"Keys.wav": off_ms}, on_beat=on_beat, quarters=quarters), click=CLICK)
    found = findings("offset-from-click", tour(odd))
    assert [one.stem for one in found] == (["Keys.wav"] if told else [])


def test_the_whole_band_is_told_once():
    """One stem on the beats is left: of such the click is as likely to be off."""
    (found,) = findings(
        "offset-from-click", tour(striking("Night Ferry", Drums=-0.6, Bass=-0.6, Guitar=-0.6))
    )
    assert (found.severity, found.stem) == (Severity.WARNING, None)


@pytest.mark.parametrize(
    "song",
    [
        striking("Night Ferry", Drums=-0.29),
        striking("Night Ferry", Keys=-0.9),
    ],
    ids=["hardly", "keys"],
)
def test_strokes_between_the_beats_that_are_no_fault(song: SongEvidence):
    assert not findings("offset-from-click", tour(song))


EIGHTHS = (0.7, 0.0, 0.3, 0.0)
LATE, EARLY = (0.02, 0.7, 0.0, 0.28), (0.0, 0.3, 0.02, 0.68)
"""What those look like a quarter of a beat later and earlier."""

Quarters = tuple[float, float, float, float]


def with_quarters(song: SongEvidence, **quarters: Quarters | None) -> SongEvidence:
    """Every stem's strokes on the eighths, or as told."""
    stems = []
    for stem in song.stems:
        place = stem.alignment
        if place is not None and place.phase is not None:
            there = quarters.get(stem.name.removesuffix(".wav"), EIGHTHS)
            stem = replace(stem, alignment=replace(place, phase=replace(place.phase, quarters=there)))
        stems.append(stem)
    return replace(song, stems=tuple(stems))


def quarter_told(off_ms: float, *, others: int = 4, odd: int = 0, usual: Quarters = EIGHTHS, **here: Any):
    """Where the drums lie; `odd` of the other songs have them on the sixteenths."""
    song = with_quarters(striking("Night Ferry", {"Drums.wav": off_ms}), **here)
    sixteenths = (0.4, 0.25, 0.15, 0.2)
    rest = [
        with_quarters(striking(f"Other {number}"), Drums=sixteenths if number < odd else usual)
        for number in range(others)
    ]
    stem = next(one for one in song.stems if one.name == "Drums.wav")
    return told_apart(stem, song, show(song, *rest), off_ms)


@pytest.mark.parametrize(
    ("off_ms", "drums", "place_ms"),
    [(-45.0, LATE, 80.0), (45.0, EARLY, -80.0), (-45.0, EARLY, -170.0), (3.0, LATE, 128.0)],
)
def test_strokes_beside_the_eighths_are_a_quarter_of_a_beat_off(
    off_ms: float, drums: Quarters, place_ms: float
):
    """80 ms late at 120 beats a minute is 45 ms early, but for where it strikes."""
    found = quarter_told(off_ms, Drums=drums)
    assert (found.places_ms, found.by, found.part) == ((place_ms,), "strokes", "a quarter of a beat")


def test_where_beats_weigh_no_more_than_halves_the_nearer_place_is_told():
    found = quarter_told(-45.0, usual=(0.5, 0.0, 0.5, 0.0), Drums=EARLY)
    assert found.places_ms == (80.0,)


@pytest.mark.parametrize(
    "odd",
    [
        {"Drums": EIGHTHS},
        {"Drums": None},
        {"Drums": (0.08, 0.43, 0.08, 0.41)},  # 0.84 beside the eighths: just too few
        {"Drums": LATE, "odd": 2},
        {"Drums": LATE, "others": 2},
        {"Drums": LATE, "Bass": LATE, "Keys": LATE, "Guitar": LATE},
    ],
)
def test_else_strokes_do_not_tell_a_quarter(odd: dict[str, Any]):
    found = quarter_told(-45.0, **odd)
    assert found.part == ""
    assert found.places_ms[0] == -45.0


SIXTEENTHS = (0.5, 0.15, 0.2, 0.15)
"""Of the strokes of who plays sixteenths half lie on the beat."""


@pytest.mark.parametrize(
    ("off_ms", "here", "place_ms"),
    [
        (45.0, (0.15, 0.15, 0.2, 0.5), -80.0),  # each stroke is a sixteenth early
        (-45.0, (0.15, 0.5, 0.15, 0.2), 80.0),
        (45.0, (0.24, 0.1, 0.2, 0.46), None),  # too many on the beat
        (45.0, (0.1, 0.24, 0.2, 0.46), None),  # or on the other sixteenth
        (45.0, (0.2, 0.2, 0.16, 0.44), None),  # too few on this one
        (45.0, SIXTEENTHS, None),
    ],
)
def test_most_strokes_of_one_who_plays_sixteenths_tell_its_beat(
    off_ms: float, here: Quarters, place_ms: float | None
):
    found = quarter_told(off_ms, usual=SIXTEENTHS, Drums=here)
    assert found.places_ms[0] == (off_ms if place_ms is None else pytest.approx(place_ms))
    assert (found.part == "a quarter of a beat") is (place_ms is not None)


def test_one_odd_song_in_four_does_not_hide_it():
    assert quarter_told(-45.0, odd=1, Drums=LATE).places_ms == (80.0,)


def test_the_report_says_which_way_and_why():
    song = with_quarters(striking("Night Ferry", {"Drums.wav": -45.0}), Drums=LATE)
    rest = [with_quarters(striking(f"Other {number}")) for number in range(4)]
    (finding,) = findings("offset-from-click", show(song, *rest))
    assert finding.message.startswith("late by about 80.0 ms (3840 samples)")
    assert (
        f"(a quarter of a beat, as its strokes lie beside the eighths, and {MINUS}45 ms within it)"
        in finding.message
    )
    assert finding.advice.startswith("Move it about 3840 samples (80.0 ms) earlier")


def test_a_quarter_of_a_beat_off_and_nothing_else_is_a_warning():
    song = with_quarters(striking("Night Ferry"), Drums=LATE)
    rest = [with_quarters(striking(f"Other {number}")) for number in range(4)]
    (finding,) = findings("offset-from-click", show(song, *rest))
    assert finding.severity is Severity.WARNING
    assert finding.message.startswith(
        "about a quarter of a beat off: it strikes beside the eighths, the drums"
    )
    assert finding.again.startswith("a quarter of a beat earlier (6000 samples)")
    # One song of the others that plays sixteenths, and it may be meant.
    rest[0] = with_quarters(striking("Other 0"), Drums=(0.4, 0.25, 0.15, 0.2))
    assert findings("offset-from-click", show(song, *rest)) == []


@pytest.mark.parametrize(
    ("strikes", "elsewhere", "places"),
    [
        (
            -0.9,
            -0.9,
            (-10.0, 240.0, -260.0),
        ),  # a skank: its chords sound after everybody's wherever it stands
        (-0.3, None, (-10.0, 240.0, -260.0)),
        (-0.29, -0.9, (240.0,)),
        (-0.9, 0.6, (240.0,)),  # strikes on the beats in every other song
    ],
)
def test_chords_between_the_beats_are_no_half_beat_late(
    strikes: float, elsewhere: float | None, places: tuple[float, ...]
):
    fits = {"at_zero": 0.1, "half_late": 0.3, "half_early": 0.1}
    odd = with_harmony(striking("Night Ferry", Keys=strikes), "Keys.wav", **fits)
    others = [] if elsewhere is None else [striking(f"Other {n}", Keys=elsewhere) for n in range(3)]
    stem = next(stem for stem in odd.stems if stem.name == "Keys.wav")
    assert told_apart(stem, odd, show(odd, *others), -10.0).places_ms == places


def test_chords_between_the_beats_may_be_half_a_beat_early():
    fits = {"at_zero": 0.1, "half_late": 0.1, "half_early": 0.3}
    odd = with_harmony(striking("Night Ferry", Keys=-0.9), "Keys.wav", **fits)
    stem = next(stem for stem in odd.stems if stem.name == "Keys.wav")
    assert told_apart(stem, odd, show(odd), -10.0).places_ms == (-260.0,)


@pytest.mark.parametrize(
    ("hats_elsewhere", "kick", "said"),
    [
        (None, 0.9, False),  # no other song has hats: the kick here is on the beats
        (None, -0.9, True),  # nobody of the kit is
        (0.7, 0.9, True),  # hats strike on the beats in every other song
        (-0.7, 0.9, False),
    ],
)
def test_hats_between_the_strokes_of_a_kick_are_written_so(
    hats_elsewhere: float | None, kick: float, said: bool
):
    """A kit in several stems: each piece is known by its own name, where other songs have one."""
    hats = {"Hats Drums.wav": 0.0}
    odd = striking("Night Ferry", hats, **{"Hats Drums": -0.9, "Drums": kick})
    others = [
        striking(f"Other {number}", hats if hats_elsewhere else None, **{"Hats Drums": hats_elsewhere or 0.0})
        for number in range(4)
    ]
    found = [one for one in findings("offset-from-click", show(odd, *others)) if one.stem in hats]
    assert bool(found) is said
    assert all("half a beat off" in one.message for one in found)


@pytest.mark.parametrize(
    ("songs", "odd_elsewhere", "told"), [(2, False, True), (1, False, False), (3, True, False)]
)
def test_claps_are_told_by_claps_where_congas_play_sixteenths(songs: int, odd_elsewhere: bool, told: bool):
    """Of two percussions one plays all sixteenths; in so many songs there are claps on the beat."""
    claps, congas = "Perc Claps.wav", "Perc Congas.wav"
    steady = {congas: (0.25, 0.25, 0.25, 0.25)}
    odd = with_quarters(striking("Night Ferry", {claps: 71.0, congas: 0.0}))
    odd = quartered(odd, {claps: (0.0, 0.0, 0.0, 1.0), **steady})
    others = []
    for number in range(5):
        here = {claps: 0.0, congas: 0.0} if number < songs else {congas: 0.0}
        beat = (0.0, 0.0, 0.0, 1.0) if odd_elsewhere and number == 0 else (1.0, 0.0, 0.0, 0.0)
        made = with_quarters(striking(f"Other {number}", here))
        others.append(quartered(made, {claps: beat, **steady}))
    stem = next(one for one in odd.stems if one.name == claps)
    assert (told_apart(stem, odd, show(odd, *others), 71.0).places_ms == (-54.0,)) is told


def quartered(song: SongEvidence, quarters: dict[str, tuple[float, float, float, float]]) -> SongEvidence:
    stems = [
        replace(
            one,
            alignment=replace(one.alignment, phase=replace(one.alignment.phase, quarters=quarters[one.name])),
        )
        if one.name in quarters and one.alignment is not None and one.alignment.phase is not None
        else one
        for one in song.stems
    ]
    return replace(song, stems=tuple(stems))
