"""The re-bounce list: who is asked for what; nothing that a new bounce would not mend."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest

from audit.findings import ShowAudit
from audit.report.names import REBOUNCE_BEGINS
from audit.report.rebounce import CREW, IF_TIME, MUSIC, SEND_AGAIN, rebounce_list, requests
from audit.results import ClickTrack
from audit.settings.model import SetList, SongSettings
from audit.settings.order import RunningOrder, SetPlace
from audit.timecode import FPS_29_97_DROP
from tests.evidence import song, stem
from tests.report.samples import audit_of, clean_audit, finding, hostile_audit
from tests.rule_ids import FIXED_IDS
from tests.rules.timecode_tracks import coded, label, track

NAME = "03 Slow Escalator"


def click(first_beat_s: float = 1.5, count_in_beats: int | None = 8, metre: str | None = "4/4") -> ClickTrack:
    return ClickTrack(
        beats_s=(first_beat_s, first_beat_s + 0.5), accents=(True, False), runs=(), bpm=120.0, metre=metre,
        count_in_beats=count_in_beats, first_beat_s=first_beat_s, music_s=first_beat_s + 4.0,
    )  # fmt: skip


def of(*findings, stems=None, **fields):
    stems = stems or [stem("Click.wav"), stem("Bass.wav"), stem("Keys.wav")]
    audit = audit_of(song(NAME, *stems, **fields), findings=findings)
    return requests(audit)


def fault(rule: str, name: str | None, severity: str = "error", **fields):
    return finding(rule, severity, name, (NAME,), **fields)


def test_the_wanted_line_says_format_start_length_and_level():
    [request] = of(fault("dropout", "Bass.wav", at_s=12.5), click=click())
    assert request.wanted == "48 kHz, 24-bit WAV, stereo, same level; without the dropout"
    assert request.with_all == (
        "from the others' start, 0:01.500 ahead of the click's first beat (2 bars before the music), "
        "1:00.000 long"
    )
    assert (request.group, request.song, request.stem) == (MUSIC, NAME, "Bass.wav")
    assert request.places == "0:12.500"


@pytest.mark.parametrize(
    ("track", "start"),
    [
        (None, "from the same start as the song's other stems"),
        (click(0.0), "from the click's first beat (2 bars before the music)"),
        (click(0.0, 6), "from the click's first beat (6 beats before the music)"),
        (click(0.0, 4), "from the click's first beat (1 bar before the music)"),
        (click(0.0, 4, None), "from the click's first beat (4 beats before the music)"),
        (click(0.0, None), "from the click's first beat"),
    ],
)
def test_the_start_is_told_in_bars_where_the_click_tells_them(track, start):
    [request] = of(fault("dropout", "Bass.wav"), click=track)
    assert request.with_all.startswith(f"{start}, ")


def test_the_length_is_that_of_the_other_stems():
    stems = [stem("Click.wav"), stem("Keys.wav"), stem("Bass.wav", seconds=41.0)]
    [request] = of(fault("length-mismatch", "Bass.wav"), stems=stems)
    assert request.with_all.endswith("1:00.000 long")


@pytest.mark.parametrize(
    ("name", "container", "says"),
    [("Bass.wav", "FLAC", "24-bit WAV"), ("Bass.flac", "FLAC", "24-bit FLAC"),
     ("Bass.aif", "AIFF", "24-bit AIFF"), ("Bass.mp3", "MP3", "24-bit WAV"),
     ("Bass.FLAC", "WAV", "24-bit FLAC")],
)  # fmt: skip
def test_a_file_that_keeps_its_name_is_asked_for_as_what_its_name_promises(name, container, says):
    stems = [stem("Click.wav"), stem("Keys.wav"), stem(name, format={"container": container})]
    [request] = of(fault("dropout", name), stems=stems)
    assert says in request.wanted


def test_no_level_is_kept_of_what_holds_no_sound():
    empty = stem("Bass.wav", failure="it holds not one sample")
    [request] = of(fault("empty-file", "Bass.wav"), stems=[stem("Click.wav"), stem("Keys.wav"), empty])
    assert "same level" not in request.wanted


@pytest.mark.parametrize(
    ("rule", "level"),
    [("dropout", ", same level; "), ("sample-clipping", "; "), ("role-level-outlier", "; ")],
)
def test_the_same_level_is_asked_for_unless_the_level_is_the_fault(rule, level):
    [request] = of(fault(rule, "Bass.wav"))
    assert f"24-bit WAV, stereo{level}" in request.wanted


def test_a_fault_in_several_files_asks_for_each_of_them():
    found = of(fault("bit-depth-mismatch", None, "warning", measured={"files": ("Bass.wav", "Keys.wav")}))
    assert [request.stem for request in found] == ["Bass.wav", "Keys.wav"]


def test_what_is_the_same_of_several_stems_is_said_once():
    """In the list to mail; a table keeps a line a stem."""
    every = ("Bass.wav", "Keys.wav", "Pad.wav")
    stems = [stem("Click.wav"), stem("Bass.wav", channels=1), stem("Keys.wav"), stem("Pad.wav")]
    rate = fault("sample-rate-mismatch", None, measured={"files": every})
    audit = audit_of(song(NAME, *stems), findings=(rate,))
    written = rebounce_list(audit, "md")
    assert written.count("  - wrong: ") == 2
    assert "- **Bass.wav**\n" in written
    assert "- **Keys.wav**, **Pad.wav**\n" in written
    assert "  Keys.wav, Pad.wav\n" in rebounce_list(audit, "txt")
    assert "3 stems in 1 song" in written
    assert len(list(csv.reader(io.StringIO(rebounce_list(audit, "csv"))))) == 4


def code_request(*findings, track_of=None, others=(), **settings):
    """The request for a song's timecode, beside other songs with timecode at these starts."""
    odd = coded(NAME, track_of) if track_of else song(NAME, stem("Bass.wav"))
    odd = replace(odd, settings=SongSettings(name=NAME, **settings))
    audit = audit_of(
        odd, *(coded(f"Other {n}", track(start)) for n, start in enumerate(others)), findings=findings
    )
    [request] = requests(audit)
    assert request.group == CREW
    return request.wanted


MISSING = fault("missing-role", None, "warning", measured={"roles": ("timecode",)})


@pytest.mark.parametrize(
    ("made", "wanted"),
    [
        (
            lambda: code_request(fault("timecode-jump", "LTC.wav"), track_of=track("02:00:00:00")),
            "mono, starting at 02:00:00:00, 25 frames a second, non-drop, at −12 dBFS; without the timecode-",
        ),
        (
            lambda: code_request(
                fault("timecode-jump", "LTC.wav"), track_of=track("02:00:00:00", rate=FPS_29_97_DROP)
            ),
            "starting at 02:00:00;00, 29.97 frames a second, drop-frame, at −12 dBFS",
        ),
        (
            lambda: code_request(
                fault("timecode-start", "LTC.wav"), track_of=track(), timecode_start=label("05:00:00:00")
            ),
            "starting at 05:00:00:00, 25 frames",
        ),
        (
            lambda: code_request(MISSING, others=("01:00:00:00", "02:00:00:00", "05:00:00:00")),
            "48 kHz, 24-bit WAV, mono, starting at 03:00:00:00 (no other song has that hour), "
            "25 frames a second, non-drop, at −12 dBFS",
        ),
        (
            lambda: code_request(
                fault("timecode-level", "LTC.wav", "warning"), track_of=track(level_dbfs=-50.0)
            ),
            "at −18 dBFS",
        ),
        (
            lambda: code_request(MISSING, others=[f"{hour:02d}:00:00:00" for hour in range(24)]),
            "mono, starting on a number that no other song has, 25",
        ),
        (
            lambda: code_request(MISSING),
            "mono, starting at 01:00:00:00 (no other song has that hour), at −18 dBFS",
        ),
    ],
    ids=[
        "as it is", "drop-frame", "as the settings say", "missing", "too low", "no hour left",
        "nothing known",
    ],
)  # fmt: skip
def test_timecode_is_asked_for_by_start_rate_counting_and_level(made, wanted):
    assert wanted in made()


def clashing(*starts: str, order: tuple[str, ...] = (), **settings: str) -> ShowAudit:
    """Songs A, B, C … that begin at these numbers, all of which overlap, before D's hour 02."""
    songs = [
        replace(
            coded(name, track(start)),
            settings=SongSettings(name=name, timecode_start=label(settings[name]))
            if name in settings
            else SongSettings(name=name),
        )
        for name, start in zip("ABC", starts, strict=False)
    ]
    names = tuple(one.name for one in songs)
    clash = finding("timecode-overlap", "error", None, names, again="on numbers that no other song has")
    audit = audit_of(*songs, coded("D", track("02:00:00:00")), show_findings=(clash,))
    if not order:
        return audit
    places = tuple(SetPlace(name=name, song=name, half=0) for name in order)
    night = RunningOrder(set_list=SetList(name="Tonight", halves=()), places=places)
    return replace(audit, evidence=replace(audit.evidence, order=night))


def starts_asked(audit: ShowAudit) -> dict[str, str]:
    return {one.song: one.wanted.partition("starting at ")[2] for one in requests(audit)}


SAME = ("01:00:00:00", "01:00:00:00", "01:00:10:00")


def test_of_songs_that_share_numbers_one_keeps_them_and_each_other_gets_an_hour_of_its_own():
    audit = clashing(*SAME)
    rest = ", 25 frames a second, non-drop, at −12 dBFS"
    assert starts_asked(audit) == {
        "B": f"03:00:00:00 (A keeps 01:00:00:00, no other song has that hour){rest}",
        "C": f"04:00:00:00 (A keeps 01:00:00:00, no other song has that hour){rest}",
    }
    assert "2 stems in 2 songs" in rebounce_list(audit, "md")


@pytest.mark.parametrize(
    ("audit", "kept", "hours"),
    [
        (clashing(*SAME, order=("C", "A")), "C keeps 01:00:10:00", {"A": "03", "B": "04"}),
        (clashing(*SAME, B="01:00:00:00"), "B keeps 01:00:00:00", {"A": "03", "C": "04"}),
        (clashing(*SAME, A="03:00:00:00"), "B keeps 01:00:00:00", {"A": "03", "C": "04"}),
    ],
    ids=["the set list's first", "as the settings ask", "the settings want it elsewhere"],
)
def test_who_keeps_its_numbers(audit, kept, hours):
    asked = starts_asked(audit)
    assert {name: start[:2] for name, start in asked.items()} == hours
    assert kept in asked["C" if "C" in asked else "B"]


def test_two_songs_of_which_the_settings_ask_the_same_are_told_where_to_mend_it():
    asked = starts_asked(clashing(*SAME[:2], A="01:00:00:00", B="01:00:00:00"))
    assert list(asked) == ["B"]
    assert "03:00:00:00 (A keeps 01:00:00:00, no other song has that hour; write it into the" in asked["B"]


def test_every_stem_that_is_not_there_counts():
    missing = [fault("missing-role", None, measured={"wanted": role}) for role in ("click", "guide")]
    audit = audit_of(song(NAME, stem("Bass.wav")), findings=tuple(missing))
    written = rebounce_list(audit, "md")
    assert "2 stems in 1 song" in written
    assert "**click, not there yet**" in written
    assert "**guide, not there yet**" in written


def test_a_song_that_lies_beside_its_click_asks_for_its_click():
    stems = [stem("Click.wav"), stem("Bass.wav")]
    [request] = of(fault("offset-from-click", None, "warning"), stems=stems, click_stem="Click.wav")
    assert (request.group, request.stem) == (CREW, "Click.wav")


def test_what_may_be_a_bad_copy_is_asked_for_as_it_is_first():
    [request] = of(fault("truncated-file", "Bass.wav"))
    assert request.wanted.startswith(
        "the same file again; if it is so at its source too, a new bounce: 48 kHz"
    )


def test_several_faults_of_a_stem_are_one_request():
    [request] = of(
        fault("dropout", "Bass.wav", at_s=1.0, message="a hole"),
        fault("dropout", "Bass.wav", at_s=2.0, message="a hole"),
        fault("dc-offset", "Bass.wav", severity="warning", message="an offset"),
    )
    assert request.wrong == "a hole; an offset"
    assert request.places == "0:01.000, 0:02.000"
    assert request.rules == ("dropout", "dc-offset")


def test_music_comes_first_and_the_crews_stems_are_a_group_of_their_own():
    found = of(fault("click-gap", "Click.wav"), fault("dropout", "Keys.wav"))
    assert [(request.group, request.stem) for request in found] == [(MUSIC, "Keys.wav"), (CREW, "Click.wav")]


def test_a_missing_role_is_asked_for_without_a_name():
    [request] = of(fault("missing-role", None, measured={"roles": ("timecode",), "wanted": "timecode"}))
    assert (request.group, request.stem) == (CREW, "timecode, not there yet")


@pytest.mark.parametrize(
    "one",
    [
        fault("two-versions", "Bass.wav"),
        fault("stray-file", None, severity="note"),
        fault("dropout", "Bass.wav", severity="note"),
        fault("dropout", "Bass.wav", waived={"reason": "known"}),
        fault("song-loudness-outlier", None, severity="warning"),
    ],
    ids=lambda one: f"{one.rule}-{one.severity.value}",
)
def test_what_no_bounce_mends_is_not_asked_for(one):
    assert of(one) == []


def test_every_rule_of_the_list_exists():
    assert SEND_AGAIN <= FIXED_IDS


def test_warnings_are_asked_for_if_there_is_time():
    bad, odd = fault("dropout", "Bass.wav"), fault("dc-offset", "Keys.wav", "warning")
    audit = audit_of(song(NAME, stem("Bass.wav"), stem("Keys.wav")), findings=(bad, odd))
    for kind, mark in (("md", "**"), ("txt", "")):
        text = rebounce_list(audit, kind, made="1 May 2027")
        assert f"Bass.wav{mark}\n" in text
        assert f"Keys.wav{mark}, {IF_TIME}\n" in text
        assert "2 stems in 1 song, 1 of them if there is time." in text
        assert "Checked 1 May 2027." in text
        assert text.count("1:00.000 long") == 1


@pytest.mark.parametrize("kind", ["md", "txt", "csv"])
def test_a_clean_show_asks_for_nothing(kind):
    text = rebounce_list(clean_audit(), kind)
    assert text.lstrip("\ufeff").startswith(REBOUNCE_BEGINS)
    if kind == "csv":
        assert len(list(csv.reader(io.StringIO(text)))) == 1
    else:
        assert "Nothing: no stem of this show needs a new bounce." in text


@pytest.mark.parametrize("kind", ["md", "txt", "csv"])
def test_hostile_names_stay_text(kind):
    text = rebounce_list(hostile_audit(), kind)
    assert "\x1b" not in text
    assert "\u202e" not in text
    if kind == "md":
        assert "**\\[bold red\\]Bass\\[/bold red\\].wav**" in text
    if kind == "csv":
        rows = list(csv.reader(io.StringIO(text)))
        assert len(rows) == 11
        assert {len(row) for row in rows} == {8}
