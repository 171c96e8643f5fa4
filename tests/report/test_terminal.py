"""The report on the terminal: what it says, in which order, on which terminals."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import pytest
from rich.cells import cell_len
from rich.console import Console

from audit.facts import PassedOver, Role
from audit.findings import Severity, Unmeasured
from audit.report.faults import CAUTION
from audit.report.terminal import print_brief, print_report
from audit.results import DeltaState, SealCheck, StemDelta
from tests.evidence import mix, part, song, stem
from tests.report.samples import (
    CLEAN_SONGS,
    HOSTILE,
    audit_of,
    clean_audit,
    faulty_audit,
    finding,
    healthy,
    hostile_audit,
    split_stem,
)


class Paper(io.TextIOWrapper):
    """A stream of some encoding that refuses what it lacks, as a terminal's does."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, errors="strict", newline="")

    def text(self) -> str:
        self.flush()
        return self.buffer.getvalue().decode(self.encoding)  # type: ignore[attr-defined]


def report(audit, *, width=80, encoding="utf-8", terminal=False, **options) -> str:
    paper = Paper(encoding)
    system = "standard" if terminal else None
    console = Console(file=paper, width=width, force_terminal=terminal, color_system=system)
    print_report(audit, console, **options)
    return paper.text()


def flat(text: str) -> str:
    """The text without its line breaks and indents."""
    return re.sub(r"\s+", " ", text)


def order_of(text: str, *words: str) -> list[int]:
    places = [flat(text).find(word) for word in words]
    assert -1 not in places, dict(zip(words, places, strict=True))
    return places


def test_a_clean_show_is_short():
    text = report(clean_audit())
    lines = text.splitlines()
    assert lines[0] == "Ready: no fault in 8 songs, 48 stems."
    assert len(lines) <= 23
    for name in CLEAN_SONGS:
        (row,) = [line for line in lines if name in line]
        assert row.split() == [*name.split(), "1:00", "6", "−16.1", "clear"]
    assert "Worst fault" not in text
    assert "Cure" not in text
    assert lines[-1] == "Ready. 8 songs, 48 stems, 8 min of music: 0 errors, 0 warnings, 0 notes."


def test_a_faulty_show_reads_in_the_order_of_need():
    text = report(faulty_audit())
    assert text.startswith("Not ready: 3 errors in 2 of 4 songs, 5 warnings. Could not check 1 stem.\n")
    wanted = (
        "Not ready", "Worst fault", "The whole show", "bit-depth-mismatch in Drums.wav, Bass.wav",
        "unreadable-file in Broken.wav", "truncated-file in Bass.wav at 1:01.250",
        "true-peak-over in 2 stems",
        "sample-clipping in Pad.wav", CAUTION, "Could not be checked", "Notes", "Guessed", "Passed over",
        "4 songs, 18 stems",
    )  # fmt: skip
    places = order_of(text, *wanted)
    assert places == sorted(places)


def test_a_long_report_ends_with_what_to_begin_with():
    """Three things at most, by what they do on stage; a short one stands on one screen."""
    faults = (
        finding("click-bleed", "error", "Pad.wav", ("B",), at_s=61.25),
        finding("click-bleed", "error", "Keys.wav", ("C",)),
        finding("key-mismatch", "error", "Bass.wav", ("A",)),
        finding("cut-tail", "warning", "Bass.wav", ("A",)),
        finding("dropout", "error", "Bass.wav", ("A",)),
    )
    lines = report(audit_of(healthy("A"), healthy("B"), healthy("C"), findings=faults)).splitlines()
    at = lines.index("Fix these first")
    assert lines[at + 1 : at + 4] == [
        "  1. click-bleed in B, Pad.wav at 1:01.250, and 1 more",
        "  2. key-mismatch in A, Bass.wav",
        "  3. dropout in A, Bass.wav",
    ]
    assert lines[-1] == "What a fault means on stage: stemaudit explain click-bleed"
    short = report(audit_of(healthy("A"), healthy("B"), findings=faults[:3]))
    assert "Fix these first" not in short


def test_a_fault_says_place_measure_and_cure():
    text = report(faulty_audit())
    lines = text.splitlines()
    at = lines.index("  error    truncated-file in Bass.wav at 1:01.250")
    assert lines[at + 1] == "           ends 12.5 s early: the header promises 72.5 s, 60 s are there"
    assert lines[at + 2] == "           Cure: Copy it again from where it came from."


def test_errors_come_before_warnings_whatever_their_order():
    findings = (
        finding("dual-mono", "note", "A.wav", ("S",)),
        finding("dc-offset", "warning", "B.wav", ("S",)),
        finding("dropout", "error", "C.wav", ("S",)),
    )
    audit = audit_of(song("S", stem("A.wav"), stem("B.wav"), stem("C.wav")))
    audit = replace(audit, songs=(replace(audit.songs[0], findings=findings),))
    below_table = report(audit).partition("\nS\n")[2]
    places = order_of(below_table, "dropout in C.wav", "dc-offset in B.wav", "Notes")
    assert places == sorted(places)


def test_the_table_names_each_song_with_its_worst_fault():
    text = report(faulty_audit(), width=110)
    rows = {name: next(line for line in text.splitlines() if name in line) for name in CLEAN_SONGS[:4]}
    assert rows[CLEAN_SONGS[0]].split()[-5:] == ["3", "warnings", "bit-depth-mismatch", "in", "Drums.wav"]
    assert "2 errors" in rows[CLEAN_SONGS[1]]
    assert rows[CLEAN_SONGS[1]].endswith("unreadable-file in Broken.wav")  # nothing of it plays
    assert rows[CLEAN_SONGS[2]].split()[-2:] == ["–", "clear"]
    assert "1 error " in rows[CLEAN_SONGS[3]]


def test_alike_findings_are_told_once():
    names = [f"Stem {number}.wav" for number in range(20)]
    findings = tuple(
        finding("bit-depth-mismatch", "warning", name, ("S",), message="16 bit") for name in names
    )
    text = flat(report(audit_of(song("S", *map(stem, names)), findings=findings)))
    assert text.count("16 bit") == 1
    assert text.count("Cure:") == 1
    assert "bit-depth-mismatch in 20 places: Stem 0.wav, Stem 1.wav" in text
    assert "and 12 more (--verbose shows all)" in text
    everything = flat(report(audit_of(song("S", *map(stem, names)), findings=findings), verbose=True))
    assert all(name in everything for name in names)


@pytest.mark.parametrize(("songs", "times"), [(3, 3), (4, 1)])
def test_what_many_songs_have_word_for_word_is_said_of_the_show(songs: int, times: int):
    names = [f"Song {number}" for number in range(songs)]
    findings = tuple(
        finding("timecode-rate", "error", "Timecode.wav", (name,), message="25, the settings say 30")
        for name in names
    )
    audit = audit_of(*(song(name, stem("Timecode.wav")) for name in names), findings=findings)
    text = flat(report(audit))
    assert text.count("25, the settings say 30") == text.count("Cure:") == times
    assert all(f"{name} " in text or f"{name}," in text for name in names)
    assert (
        "The whole show error timecode-rate in 4 places: Song 0, Timecode.wav; Song 1, Timecode.wav" in text
    ) == (songs == 4)
    assert flat(report(audit, verbose=True)).count("25, the settings say 30") == songs


def test_many_places_in_one_stem_stand_in_one_list():
    findings = tuple(
        finding("dropout", "error", "A.wav", ("S",), at_s=float(s), message="a hole") for s in (1, 2)
    )
    assert "dropout in A.wav at 0:01.000, 0:02.000" in report(
        audit_of(song("S", stem("A.wav")), findings=findings)
    )


def test_different_measures_keep_their_places():
    text = report(faulty_audit())
    assert "           Drums.wav at 0:12.300: +0.4 dBTP, limit 0.0\n" in text
    assert "           Keys.wav at 0:31.000: +0.2 dBTP, limit 0.0\n" in text


def test_notes_never_drown_the_errors():
    notes = [finding("dual-mono", "note", f"{n}.wav", ("S",), message=f"{n} twice") for n in range(50)]
    error = finding("dropout", "error", "0.wav", ("S",))
    text = report(audit_of(song("S", stem("0.wav")), findings=(error, *notes)))
    assert text.count("twice") == 1
    assert "50 such notes (--verbose tells all), the first: S, 0.wav: 0 twice" in flat(text)
    assert text.index("dropout in") < text.index("Notes")
    assert len(text.splitlines()) < 24


def test_the_unanswered_is_one_line_a_stem_with_its_reason():
    text = flat(report(faulty_audit()))
    assert f"{CLEAN_SONGS[1]}, Broken.wav: no audio format was recognised " in text
    assert "1 stem not fully checked." in text
    told = flat(report(faulty_audit(), verbose=True))
    assert "no audio format was recognised (not answered: " in told


def test_what_is_normal_worries_nobody():
    """Rules that had nothing to ask are a matter of --verbose."""
    assert "to ask these rules about" not in report(faulty_audit())
    assert "to ask these rules about" in flat(report(faulty_audit(), verbose=True))


def test_an_incomplete_show_is_never_called_ready():
    gap = Unmeasured(rule="dropout", stem="Bass.wav", reason="the decoder broke down on it")
    text = report(audit_of(healthy("S"), unmeasured={"S": (gap,)}))
    assert text.startswith("Could not check everything: 1 stem not fully checked, no fault elsewhere.\n")
    assert "incomplete" in text
    assert "not checked: Bass.wav" in text
    assert "the decoder broke down on it (not answered: dropout)" in flat(text)


def test_warnings_alone_ask_for_a_look():
    warned = audit_of(
        healthy("S"), healthy("T"), findings=(finding("dc-offset", "warning", "A.wav", ("S",)),)
    )
    assert report(warned).startswith("Have a look first: 1 warning in 1 of 2 songs, no errors.\n")


def test_a_part_of_the_audit_is_never_called_ready():
    text = report(clean_audit(), asked="3 of 45 rules")
    assert text.startswith("Nothing found by what was asked: no fault in 8 songs, 48 stems.\n")
    assert "Only part of the audit ran: 3 of 45 rules." in text
    assert "Ready" not in text


def test_an_empty_show_is_never_called_ready():
    assert report(audit_of()).startswith("Nothing was checked")
    assert report(audit_of(song("S"))).startswith("Nothing was checked")


def test_waived_findings_are_told_by_themselves_and_count_for_nothing():
    waived = finding("dropout", "error", "Bass.wav", ("S",), waived={"reason": "meant so"})
    text = report(audit_of(healthy("S"), findings=(waived,)))
    assert text.startswith("Ready")
    assert "dropout  S, Bass.wav: meant so" in text
    assert "was measured" not in text
    assert "0 notes, 1 waived." in text


def test_the_caution_stands_once_and_only_where_it_is_needed():
    loud = tuple(finding("sample-clipping", "error", "Bass.wav", (name,)) for name in ("S", "T"))
    assert flat(report(audit_of(healthy("S"), healthy("T"), findings=loud))).count(CAUTION) == 1
    tame = finding("bit-depth-mismatch", "error", "Bass.wav", ("S",))
    assert "Caution" not in report(audit_of(healthy("S"), findings=(tame,)))


def test_the_mix_says_what_it_left_out_but_not_silence():
    heard = mix(left_out=(("Full.wav", "a full mix beside its parts"), ("Pad.wav", "silent")))
    text = report(audit_of(song("S", stem("Bass.wav"), mix=heard)))
    assert "Loudness of S is without Full.wav (a full mix beside its parts)." in text
    assert "Pad.wav" not in text


def test_songs_alike_in_what_they_left_out_share_a_line():
    heard = mix(left_out=(("Full.wav", "a full mix beside its parts"),))
    audit = audit_of(*(song(name, stem("Bass.wav"), mix=heard) for name in "STU"))
    text = flat(report(audit))
    assert "Loudness of 3 songs is without Full.wav (a full mix beside its parts)." in text
    assert "Loudness of S, T and U is without" in flat(report(audit, verbose=True))


def test_the_last_lines_repeat_the_answer_that_has_scrolled_away():
    assert "\nNot ready. 4 songs, 18 stems" in report(faulty_audit())
    gap = Unmeasured(rule="dropout", stem="Bass.wav", reason="broke")
    assert "\nCould not check everything. 1 song" in report(audit_of(healthy("S"), unmeasured={"S": (gap,)}))
    assert "\nReady. 8 songs" in report(clean_audit())


def test_an_archive_that_may_hold_a_song_is_named_by_default():
    why = "an archive; unpack it to have its content audited"
    entries = (
        PassedOver(path="C.zip", reason=why, stray=True, packed=True),
        PassedOver(path="a", reason="hidden"),
    )
    text = flat(report(audit_of(healthy("S"), passed_over=entries)))
    assert f"Not audited: C.zip: {why}. Passed over: hidden (1)." in text


def test_stems_set_aside_are_named_by_default():
    why = "the version v2 counts instead (by its name)"
    aside = [PassedOver(path=f"S/{name}.wav", reason=why, song="S", stem=True) for name in ("Bass", "Keys")]
    aside.append(PassedOver(path="Walk-on.wav", reason="in no song", stray=True, stem=True))
    text = flat(report(audit_of(healthy("S"), passed_over=tuple(aside))))
    assert f"Not audited: Bass.wav and Keys.wav of S: {why}." in text
    assert "Not audited: Walk-on.wav: in no song." in text
    assert "Passed over" not in text


def test_passed_over_is_counted_by_reason_and_listed_on_request():
    litter = tuple(PassedOver(path=f"._{n}.wav", reason="hidden") for n in range(5))
    audit = audit_of(healthy("S"), passed_over=litter)
    assert "Passed over: hidden (5)." in report(audit)
    assert "  ._3.wav: hidden" in report(audit, verbose=True)


def test_timecode_in_a_stem_named_as_music_is_named():
    fake = stem("Keys.wav", parts=[part(Role.TIMECODE)])
    assert "named as music, and judged as timecode: S, Keys.wav." in flat(
        report(audit_of(healthy("S", fake)))
    )
    assert "named as music" not in flat(report(audit_of(healthy("S"), song("T", split_stem()))))


def test_every_folder_with_audio_that_is_set_aside_is_named():
    aside = [PassedOver(path=f"Aside {n}", reason="put aside", holds_audio=True) for n in range(12)]
    aside += [PassedOver(path="S/old", reason="put aside", song="S", holds_audio=True)]
    aside += [PassedOver(path="T/old", reason="put aside", song="T", holds_audio=True)]
    aside += [PassedOver(path="T/v1", reason="older", song="T", holds_audio=True)]
    aside += [PassedOver(path="Docs", reason="a folder without audio")]
    text = flat(report(audit_of(healthy("S"), healthy("T"), passed_over=tuple(aside))))
    assert "Set aside with audio in it: Aside 0, Aside 1, Aside 2" in text
    assert "Aside 11, old (2 songs) and T/v1." in text
    assert "Set aside" not in report(audit_of(healthy("S"), passed_over=(aside[-1],)))


@pytest.mark.parametrize("width", [40, 60, 80, 100, 120])
@pytest.mark.parametrize("make", [clean_audit, faulty_audit, hostile_audit])
def test_no_line_is_wider_than_the_terminal(make, width):
    lines = report(make(), width=width, verbose=True).splitlines()
    assert lines
    assert max(cell_len(line) for line in lines) <= width
    assert all(line == line.rstrip() for line in lines)


@pytest.mark.parametrize("make", [faulty_audit, hostile_audit])
def test_without_colour_there_is_no_control_code(make):
    text = report(make())
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f]", text)


def test_colour_is_never_the_only_sign():
    coloured = report(faulty_audit(), terminal=True)
    assert "\x1b[" in coloured
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == report(faulty_audit())


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
@pytest.mark.parametrize("make", [clean_audit, faulty_audit, hostile_audit])
def test_poor_terminals_get_every_word(make, encoding):
    text = report(
        make(), encoding=encoding, verbose=True
    )  # a strict stream: raises where a letter is missing
    assert "-" in text
    assert max(map(len, text.splitlines())) <= 80
    assert "…" not in text


def test_hostile_names_are_shown_and_not_obeyed():
    text = report(hostile_audit(), terminal=True)
    assert not set("\x07\r\t\u202e") & set(text)
    assert "\x1b[31mred" not in text
    whole = flat(text)
    assert r"\x1b[31mred\x1b[0m.wav" in whole
    assert r"right\u202evaw.exe" in whole
    assert "[bold red]Bass[/bold red].wav" in whole
    assert ":smile: emoji.wav" in whole
    assert r"caf\xe9 no utf-8.wav" in whole
    assert "{limit} %s \\x.wav" in whole


def test_long_names_are_shortened_in_the_table_only():
    longest = max(HOSTILE, key=len)
    text = report(hostile_audit())
    table, _, rest = text.partition("\n\n")[2].partition("\n\n")
    assert all(cell_len(line) <= 80 for line in table.splitlines())
    assert "aaa…aaa" in table
    assert longest in re.sub(r"\s", "", rest)


def test_brief_holds_only_what_counts():
    paper = Paper("utf-8")
    print_brief(faulty_audit(), Console(file=paper, width=100), threshold=Severity.ERROR)
    text = paper.text()
    assert text.startswith("Not ready")
    assert "truncated-file in Bass.wav" in text
    assert "Could not be checked" in text
    for absent in ("true-peak-over", "dual-mono", "Worst fault", "Passed over", "warning  "):
        assert absent not in text


def test_where_notes_count_a_note_is_not_ready():
    audit = audit_of(healthy("S"), findings=(finding("dual-mono", "note", "Bass.wav", ("S",)),))
    why = "Have a look first: 1 note, no errors or warnings."
    assert report(audit).startswith("Ready: no fault")
    assert report(audit, threshold=Severity.WARNING).startswith("Ready: no fault")
    for asked in (None, "3 of 45 rules"):
        text = report(audit, threshold=Severity.NOTE, asked=asked)
        assert text.startswith(why)
        assert "\nHave a look first. 1 song" in text
        paper = Paper("utf-8")
        print_brief(audit, Console(file=paper, width=100), threshold=Severity.NOTE, asked=asked)
        assert paper.text().startswith(why)
    clean = audit_of(healthy("S"))
    assert report(clean, threshold=Severity.NOTE).startswith("Ready: no fault")


def test_brief_without_a_threshold_tells_the_unanswered():
    paper = Paper("utf-8")
    print_brief(faulty_audit(), Console(file=paper, width=100), threshold=None)
    assert "Could not be checked" in paper.text()
    assert "Cure" not in paper.text()


def test_a_song_by_itself_says_what_the_others_would_tell():
    """Ready is said of what was asked: an odd level or a missing click shows only beside other songs."""
    whole = audit_of(healthy("S"))
    alone = replace(whole, evidence=replace(whole.evidence, partial=True))
    assert "by itself" not in report(whole)
    said = flat(report(alone))
    assert said.startswith("Ready: no fault in 1 song, 6 stems. Heard by itself: missing stems, odd levels,")
    assert said.count("show only in a scan of the whole show.") == 1


def test_a_guess_names_its_song():
    """`Odd 1.flac` may lie in any of them."""
    odd = stem("Odd 1.flac")
    text = " ".join(report(audit_of(song("A", stem("Bass.wav"), odd), song("B", stem("Bass.wav")))).split())
    assert "as the name tells no part: Odd 1.flac (A)." in text
    alone = " ".join(report(audit_of(song("A", stem("Bass.wav"), odd))).split())
    assert "as the name tells no part: Odd 1.flac." in alone
    both = " ".join(report(audit_of(song("A", odd), song("B", odd))).split())
    assert "as the name tells no part: Odd 1.flac (2 songs)." in both


def test_a_show_that_is_as_sealed_says_so():
    """And nothing of the kind where something differs, or could not be read."""
    sealed = SealCheck(sealed_at="2026-05-01T18:00:00+00:00", stems=2, deltas=())
    audit = audit_of(song("A", stem("Bass.wav"), stem("Keys.wav")))
    as_sealed = "As sealed on 2026-05-01, as far as a scan can see: 2 stems"

    def said(check: SealCheck | None, **more) -> str:
        held = replace(audit, evidence=replace(audit.evidence, seal=check), **more)
        return " ".join(report(held).split())

    assert as_sealed in said(sealed)
    gone = StemDelta(state=DeltaState.MISSING, path="A/Pad.wav", song="A", stem="Pad.wav")
    assert "As sealed" not in said(replace(sealed, deltas=(gone,)))
    assert "As sealed" not in said(None)
