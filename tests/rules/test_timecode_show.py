"""timecode-rate, -overlap, -late: planted, clean, and on both sides of each limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import SongEvidence, StemEvidence
from audit.folder.versions import read_mark
from audit.results import ClickTrack, Envelope, TimecodeRun, TimecodeTrack
from audit.timecode import FPS_24, FPS_25, FPS_29_97, FPS_29_97_DROP, FPS_30
from tests.evidence import audit_with, findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.timecode_tracks import beside_click, coded, label, ltc, track

NONE_OF_IT = song("Silent Mill", stem("Click.wav"), stem("Bass.wav"))


def hours(*rates, **more: object) -> list[SongEvidence]:
    """A song an hour, each with its rate."""
    return [
        coded(f"Song {n}", track(f"{n:02d}:00:00:00", rate=rate, **more)) for n, rate in enumerate(rates, 1)
    ]


def clock(off_ppm: float, **more: object):
    speed = 25.0 * (1 + off_ppm * 1e-6)
    return show(coded("Night Ferry", track(off_ppm=off_ppm, frames_per_s=speed, **more)))


def runs(*spans: tuple[str, str]) -> TimecodeTrack:
    """Timecode in several pieces."""
    pieces = tuple(
        TimecodeRun(first=label(first), last=label(last), start_s=0.0, end_s=1.0) for first, last in spans
    )
    return track(first=pieces[0].first, last=pieces[-1].last, runs=pieces)


def pair(one: TimecodeTrack, two: TimecodeTrack):
    return show(coded("Night Ferry", one), coded("Tin Roof", two))


def placed(start_s: float = 0.0, end_s: float = 60.0, *, click_s: float | None = 2.0):
    """Timecode and click at these seconds of a minute, and music from 4 to 58 s."""
    found = track(seconds=end_s - start_s, at_s=start_s)
    bass = {"first_sound_frame": 4 * 48_000, "last_sound_frame": 58 * 48_000}
    stems = [ltc(found), stem("Bass.wav", activity=bass)]
    if click_s is not None:
        stems.append(stem("Click.wav", activity={"first_sound_frame": round(click_s * 48_000)}))
    return show(song("Night Ferry", *stems))


def with_click(beats_s: tuple[float, ...], start_s: float):
    heard = ClickTrack(
        beats_s=beats_s, accents=(True,) * len(beats_s), runs=(), bpm=120.0, metre=None, count_in_beats=None,
        first_beat_s=beats_s[0],
    )  # fmt: skip
    made = placed(start_s, click_s=0.0)
    return replace(made, songs=(replace(made.songs[0], click=heard, click_stem="Click.wav"),))


CASES: dict[str, tuple[Case, ...]] = {
    "timecode-rate": (
        planted("one song at another rate", show(*hours(FPS_25, FPS_25, FPS_24)),
                Expected(stem="LTC.wav", songs=("Song 3",), says=("24 frames a second, the show runs at 25",),
                         advises=("show's frame rate",))),
        planted("non-drop among drop-frame", show(*hours(FPS_29_97_DROP, FPS_29_97, FPS_29_97_DROP)),
                Expected(stem="LTC.wav", songs=("Song 2",), says=("29.97 NDF", "at 29.97 DF"))),
        planted("two camps", show(*hours(FPS_25, FPS_30)),
                Expected(songs=("Song 1", "Song 2"), says=("no common", "25 in Song 1", "30 in Song 2"))),
        planted("the clock is 300 ppm fast", clock(300.0),
                Expected(stem="LTC.wav", value=300.0, says=("+300 ppm", "25.0075", "limit 100"))),
        planted("the clock is slow", clock(-150.0), Expected(stem="LTC.wav", value=-150.0, says=("−150",))),
        planted("the sample rate is mislabelled", clock(88_435.0),
                Expected(stem="LTC.wav", says=("1.0884 times its speed",), advises=("44.1 and 48",))),
        clean("all alike", show(*hours(FPS_29_97, FPS_29_97, FPS_29_97))),
        clean("one song alone", show(*hours(FPS_30))),
        clean("no timecode", show(NONE_OF_IT)),
        clean("too short for its clock to be told", clock(900.0, seconds=0.9)),
        at_limit("100 ppm", clock(100.0)),
        past_limit("101 ppm", clock(101.0), Expected(stem="LTC.wav", value=101.0)),
    ),
    "timecode-overlap": (
        planted("the same numbers", pair(track(), track()),
                Expected(songs=("Night Ferry", "Tin Roof"), value=1500.0,
                         says=("Night Ferry and Tin Roof", "01:00:00:00 to 01:00:59:24",
                               "1 min (1500 frames)"),
                         advises=("own stretch",))),
        planted("past midnight", pair(track("23:59:30:00"), track("00:00:20:00")),
                Expected(songs=("Night Ferry", "Tin Roof"), value=250.0,
                         says=("00:00:20:00 to 00:00:29:24",))),
        planted("three songs, told once",
                show(coded("Night Ferry"), coded("Tin Roof", track("01:00:30:00")),
                     coded("Third", track("01:01:10:00")), coded("Far", track("05:00:00:00"))),
                Expected(songs=("Night Ferry", "Tin Roof", "Third"), value=750.0,
                         says=("numbers of 3 songs",))),
        planted("two pairs", show(coded("A"), coded("B"), coded("C", track("03:00:00:00")),
                                  coded("D", track("03:00:59:24"))),
                Expected(songs=("A", "B"), value=1500.0), Expected(songs=("C", "D"), value=1.0)),
        planted("the second piece of a broken code",
                pair(track("05:00:00:00"),
                     runs(("01:00:00:00", "01:00:09:24"), ("05:00:10:00", "05:00:19:24"))),
                Expected(songs=("Night Ferry", "Tin Roof"), value=250.0,
                         says=("05:00:10:00 to 05:00:19:24",))),
        planted("played backwards",
                pair(replace(runs(("01:00:59:24", "01:00:00:00")), backward=True), track("01:00:50:00")),
                Expected(songs=("Night Ferry", "Tin Roof"), value=250.0)),
        planted("at other rates", pair(track(), track("01:00:59:00", rate=FPS_30)),
                Expected(songs=("Night Ferry", "Tin Roof"), value=25.0, says=("01:00:59:00",))),
        clean("versions of one song",
              show(*[song(name, ltc(track()), facts={"title_key": "rain", "title_mark": read_mark(mark)})
                     for name, mark in (("Rain", None), ("Rain v2", "v2"))])),
        clean("an hour shared", pair(track(), track("01:30:00:00"))),
        clean("a broken code does not reach from end to end",
              pair(runs(("01:00:00:00", "01:00:09:24"), ("09:00:00:00", "09:00:19:24")),
                   track("05:00:00:00"))),
        clean("up to midnight and from it on", pair(track("23:59:00:00"), track("00:00:00:00"))),
        clean("one song with timecode", show(coded("Night Ferry"), NONE_OF_IT)),
        clean("the same code twice in one song",
              show(song("Night Ferry", ltc(track()), ltc(track(), "SMPTE.wav")),
                   coded("Tin Roof", track("02:00:00:00")))),
        at_limit("the next number is the other song's first", pair(track(), track("01:01:00:00"))),
        past_limit("one frame", pair(track(), track("01:00:59:24")),
                   Expected(songs=("Night Ferry", "Tin Roof"), value=1.0)),
    ),
    "timecode-late": (
        planted("starts after the count-in", placed(4.0),
                Expected(stem="LTC.wav", value=2.0, at_s=4.0,
                         says=("2.00 s after the first click", "0:04.000 against 0:02.000"))),
        planted("starts after the music, no click", placed(5.0, click_s=None),
                Expected(stem="LTC.wav", value=1.0, says=("after the music",))),
        planted("stops before the end", placed(0.0, 30.0),
                Expected(stem="LTC.wav", value=28.0, at_s=30.0, says=("stops 28.0 s before",))),
        planted("by the beats that were heard", with_click((1.0, 1.5), 3.0),
                Expected(stem="LTC.wav", value=2.0)),
        clean("from start to end", placed()),
        clean("a click that was found later than its stem's first noise", with_click((3.0, 3.5), 2.9)),
        clean("no click, before the music", placed(3.9, click_s=None)),
        clean("click and timecode alone", show(song("Night Ferry", beside_click(track())))),
        clean("no timecode", show(NONE_OF_IT)),
        at_limit("0.1 s after the click", placed(0.1, click_s=0.0)),
        at_limit("1 s before the end", placed(0.0, 57.0)),
        past_limit("0.14 s after the click", placed(2.14, 60.0), Expected(stem="LTC.wav", value=0.14)),
        past_limit("1.04 s before the end", placed(0.0, 56.96), Expected(stem="LTC.wav", value=1.04)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_what_does_not_arise_is_not_applicable():
    alone = show(song("Night Ferry", ltc(track())))
    assert audit_with("timecode-late", alone).not_applicable == {"timecode-late": 1}
    assert audit_with("timecode-overlap", alone).not_applicable == {"timecode-overlap": 1}
    assert audit_with("timecode-rate", show(NONE_OF_IT)).not_applicable == {"timecode-rate": 1}


def test_every_pair_of_a_group_is_in_the_json():
    found = findings("timecode-overlap", show(*[coded(f"Song {n}") for n in range(4)]))
    assert len(found) == 1
    assert len(found[0].measured["pairs"]) == 6  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("file_s", "end_dbfs", "speaks"),
    [
        (30.0, -6.0, ["length-mismatch"]),  # the file ends while the code runs: it was cut
        (30.0, -70.0, ["timecode-late"]),  # the code stops, a moment of silence, the end of the file
        (60.0, -120.0, ["timecode-late"]),  # the code stops in a file as long as the song
    ],
)
def test_timecode_that_ends_before_the_music_is_told_by_one_rule(
    file_s: float, end_dbfs: float, speaks: list[str]
):
    last = {"end_rms_dbfs": end_dbfs, "last_sound_frame": 30 * 48_000 - 1}
    code = ltc(track(seconds=29.96), seconds=file_s, activity=last)
    evidence = show(song("Night Ferry", code, stem("Bass.wav"), stem("Keys.wav")))
    told = [f for rule in ("length-mismatch", "timecode-late") for f in findings(rule, evidence)]
    assert [f.rule for f in told if f.severity.value != "note"] == speaks


def hissing_bass(first_ms: float, hiss_dbfs: int) -> StemEvidence:
    """A minute from there on, of which only the seconds from 4 to 50 are louder than the rest."""
    levels = [240 + 2 * hiss_dbfs] * 600
    levels[40:500] = [240 - 2 * 20] * 460
    sounds = {"first_sound_frame": round(48 * first_ms), "last_sound_frame": 60 * 48_000}
    bass = stem("Bass.wav", activity=sounds)
    (one,) = bass.parts
    envelope = Envelope(bin_s=0.1, peaks=bytes(levels), levels=bytes(levels))
    return replace(bass, parts=(replace(one, measures=replace(one.measures, envelope=envelope)),))


@pytest.mark.parametrize(
    ("hiss_dbfs", "code_ends_s", "told_s"),
    [
        (-64, 51.0, None),  # the last note is over at 50 s, the amplifier hisses to the end of its file
        (-64, 48.0, 2.0),
        (-46, 51.0, None),
        (-40, 51.0, 9.0),  # that is no hiss
    ],
)
def test_hiss_to_the_end_of_a_file_is_no_music(hiss_dbfs: int, code_ends_s: float, told_s: float | None):
    evidence = show(song("Night Ferry", ltc(track(seconds=code_ends_s)), hissing_bass(0.0, hiss_dbfs)))
    found = findings("timecode-late", evidence)
    assert [one.value for one in found] == ([] if told_s is None else [pytest.approx(told_s, abs=0.05)])


@pytest.mark.parametrize(("first_ms", "is_hiss"), [(0.0, True), (9.0, True), (11.0, False)])
def test_hiss_sounds_from_the_begin_of_its_file(first_ms: float, is_hiss: bool):
    """What begins later was played, however softly: timecode that ends 10 s before its end is told."""
    evidence = show(song("Night Ferry", ltc(track(seconds=50.0)), hissing_bass(first_ms, -64)))
    assert [one.value for one in findings("timecode-late", evidence)] == (
        [] if is_hiss else [pytest.approx(10.0, abs=0.05)]
    )


@pytest.mark.parametrize(("rises_s", "told"), [(5.0, []), (None, [pytest.approx(1.0, abs=0.01)])])
def test_a_noise_floor_that_opens_before_the_music_needs_no_timecode(
    rises_s: float | None, told: list[object]
):
    rises = None if rises_s is None else round(rises_s * 48_000)
    sounds = {"first_sound_frame": 4 * 48_000, "rises_frame": rises, "last_sound_frame": 58 * 48_000}
    evidence = show(song("Night Ferry", ltc(track(start_s=5.0)), stem("Bass.wav", activity=sounds)))
    assert [finding.value for finding in findings("timecode-late", evidence)] == told
