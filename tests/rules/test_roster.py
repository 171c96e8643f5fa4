"""missing-role, two-versions, mix-beside-parts: who is in the song."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role, Stem
from audit.findings import Severity
from audit.folder.versions import read_mark
from audit.results import PartsFit, SameAudio
from audit.rules.versions import newest_by_date, newest_by_mark
from tests.evidence import audit_with, findings, part, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_arrangement import band as arranged
from tests.rules.test_arrangement import changed

DAY_NS = 86_400 * 10**9


def songs(count: int, *files: str, first: int = 1) -> list[SongEvidence]:
    return [song(f"Song {n}", *map(stem, files)) for n in range(first, first + count)]


def odd(*files: str, **more: object) -> SongEvidence:
    return song("Odd One", *[stem(file, **more) for file in files])


BAND = ("Click.wav", "Timecode.wav", "Bass.wav", "Drums.wav")


def versions(**marks: str | None) -> SongEvidence:
    """Stems of one key: `a=None` is "a.wav" without a mark, saved in the order given, a day apart."""
    return song(
        "Night Ferry",
        *(
            stem(
                f"{name}.wav",
                role="bass",
                facts={"version": mark, "version_key": "bass", "modified_ns": day * DAY_NS},
            )
            for day, (name, mark) in enumerate(marks.items(), start=1)
        ),
    )


def fitted(*others: StemEvidence, v2_s: float, name: str = "A") -> ShowEvidence:
    """A bass of 60 s, its second version of another length, and other stems."""
    named = {"version_key": "bass", "modified_ns": DAY_NS}
    newer = stem("Bass v2.wav", seconds=v2_s, facts={**named, "version": "v2", "modified_ns": 2 * DAY_NS})
    return show(song(name, stem("Bass.wav", facts=named), newer, *others))


def mixed(
    explained: float, *more: PartsFit, parts: tuple[str, ...] = ("Bass.wav", "Drums.wav")
) -> ShowEvidence:
    fits = [PartsFit(stem="Mix.wav", explained=explained, parts=parts), *more]
    stems = [stem(file) for file in ("Mix.wav", "Bass.wav", "Drums.wav", "Click.wav")]
    stems += [stem(fit.stem) for fit in more]
    return show(song("Night Ferry", *stems, parts_fits=fits))


def click_and_timecode(file: str) -> StemEvidence:
    return stem(file, parts=[part(Role.CLICK, channels=(0,)), part(Role.TIMECODE, channels=(1,))])


def sets(*folders: tuple[str, int], files: tuple[str, ...] = BAND) -> SongEvidence:
    """The same stems in several folders, each with its sample rate."""
    return song(
        "Night Ferry",
        *(
            stem(f"{folder}/{file}", rate_hz=rate_hz, facts={"version_key": file.lower()})
            for folder, rate_hz in folders
            for file in files
        ),
    )


def titled(*marks: str | None, key: str = "rain") -> ShowEvidence:
    titles = [
        song(
            f"Rain {mark or ''}".strip(),
            stem("Bass.wav"),
            facts={"title_key": key, "title_mark": read_mark(mark)},
        )
        for mark in marks
    ]
    return show(*titles, song("Snow", stem("Bass.wav"), facts={"title_key": "snow"}))


def archived(archive: str | None, *files: str) -> ShowEvidence:
    return show(song("Night Ferry", *map(stem, files), facts={"archive": archive}), *songs(2, *BAND))


CASES: dict[str, tuple[Case, ...]] = {
    "stems-in-archive": (
        planted("old", archived("Old", "Old/Bass.wav", "Old/Click.wav"),
                Expected(songs=("Night Ferry",), says=("all 2 stems", "“Old”"))),
        planted("backup", archived("Backup/v2", "Backup/v2/Bass.wav"),
                Expected(says=("1 stem ", "Backup/v2"))),
        clean("loose stems", archived(None, "Bass.wav")),
        clean("no stem at all", archived("Old")),
        at_limit("other stems beside it", archived(None, "Bass.wav", "Keys.wav")),
        past_limit("one stem", archived("Old", "Old/Bass.wav"), Expected(says=("Old",))),
    ),
    "missing-role": (
        planted(
            "timecode",
            show(*songs(9, *BAND), odd("Click.wav", "Bass.wav", "Drums.wav")),
            Expected(severity="warning", songs=("Odd One",), value=100.0, says=("no timecode", "limit 80 %")),
        ),
        planted(
            "a part is a note",
            show(*songs(9, *BAND), odd("Click.wav", "Timecode.wav", "Drums.wav")),
            Expected(severity="note", says=("no bass", "all of the other songs"), facts={"roles": ("bass",)}),
        ),
        planted(
            "several roles that all the others have",
            show(*songs(9, *BAND), odd("Click.wav", "Keys.wav")),
            Expected(severity="warning", songs=("Odd One",), says=(": all of the other songs have each",)),
        ),
        planted(
            "several roles are one finding",
            show(*songs(5, *BAND), *songs(1, *BAND[:3], first=6), odd("Click.wav", "Keys.wav")),
            Expected(
                severity="warning", songs=("Odd One",), says=("no timecode, no drums, no bass", "83 to"),
                facts={"roles": ("timecode", "drums", "bass")},
            ),
            Expected(severity="note", songs=("Song 6",), says=("no drums: 83 %",)),
        ),
        planted(
            "a click-only song without timecode is worth knowing, no more",
            show(*songs(9, *BAND), odd("Click.wav")),
            Expected(severity="note", says=("no timecode",), facts={"roles": ("timecode",)}),
        ),
        clean("click and timecode only", show(*songs(9, *BAND), odd("Click.wav", "Timecode.wav"))),
        clean(
            "click and timecode only, where the others have a guide",
            show(*songs(9, *BAND, "Guide.wav"), odd("Click.wav", "Timecode.wav")),
        ),
        planted(
            "no guide beside music",
            show(*songs(9, *BAND, "Guide.wav"), odd(*BAND)),
            Expected(severity="note", says=("no guide",)),
        ),
        clean("both in one file", show(*songs(9, *BAND), song("Odd One", click_and_timecode("Crew.wav"),
              stem("Bass.wav"), stem("Drums.wav")))),
        clean("the music in a full mix", show(*songs(9, *BAND), odd("Click.wav", "Timecode.wav", "Mix.wav"))),
        clean("the music in stems of unknown role", show(*songs(9, *BAND), odd(*BAND[:2], "Tracks.wav"))),
        clean("a stem that cannot be read is not missing", show(*songs(9, *BAND), song("Odd One",
              *map(stem, BAND[:3]), stem("Drums.wav", unreadable=True)))),
        clean("an unread file whose name tells two roles", show(*songs(9, *BAND), song("Odd One",
              *map(stem, BAND[2:]), stem("x.wav", unreadable=True, role="click",
              facts={"channel_roles": (Role.CLICK, Role.TIMECODE)})))),
        clean("a silent stem is there", show(*songs(9, *BAND), song("Odd One", *map(stem, BAND[:3]),
              stem("Drums.wav", silent=True)))),
        at_limit("four other songs are too few", show(*songs(4, *BAND), odd("Click.wav", "Bass.wav"))),
        past_limit(
            "five other songs are enough",
            show(*songs(5, *BAND), odd("Click.wav", "Bass.wav", "Drums.wav")),
            Expected(severity="warning", value=100.0),
        ),
        at_limit("7 of 9 others", show(*songs(7, *BAND), *songs(2, *BAND[:3], first=8), odd(*BAND[:3]))),
        past_limit(
            "8 of 10 others, 80 %, and all three that lack it are told",
            show(*songs(8, *BAND), *songs(2, *BAND[:3], first=9), odd(*BAND[:3])),
            Expected(severity="note", songs=("Song 9",), value=80.0),
            Expected(severity="note", songs=("Song 10",), value=80.0),
            Expected(severity="note", songs=("Odd One",), value=80.0),
        ),
    ),
    "two-versions": (
        planted(
            "a numbered version beside the plain name",
            show(versions(Bass=None, Bass_v2="v2")),
            Expected(stem="Bass_v2.wav", says=("Bass.wav", "by its mark the newest is Bass_v2.wav")),
        ),
        planted(
            "three of them are one finding",
            show(versions(Bass_v2="v2", Bass_v10="v10", Bass_v9="v9")),
            Expected(stem="Bass_v10.wav", says=("though Bass_v9.wav was saved later",)),
        ),
        planted(
            "words and numbers do not compare: the date tells",
            show(versions(Bass_FINAL="FINAL", Bass_v3="v3")),
            Expected(stem="Bass_v3.wav", says=("by its date the newest is Bass_v3.wav",)),
        ),
        planted(
            "a browser's second copy",
            show(versions(Bass=None, Bass_1="(1)")),
            Expected(stem="Bass_1.wav"),
        ),
        planted(
            "two sets of stems",
            show(sets(("48k", 48000), ("44k1", 44100))),
            Expected(says=("48k (48 kHz), 44k1 (44.1 kHz)",), facts={"folders": ("48k", "44k1"), "stems": 4}),
        ),
        planted("songs that differ by a mark", titled(None, "v2"),
                Expected(severity="note", songs=("Rain", "Rain v2"), says=("Rain, Rain v2",))),
        clean("songs that are numbered", titled("(1)", "(2)")),
        clean("songs of no title", titled(None, "v2", key="")),
        clean("groups of stems", show(song("Night Ferry", *(stem(file, facts={"version_key": file.lower()})
              for file in ("Drums/L.wav", "Drums/R.wav", "Keys/L.wav", "Keys/R.wav"))))),
        clean("one name in two folders", show(sets(("Band", 48000), ("Crew", 48000), files=BAND[:1]))),
        planted(
            "the newer one does not fit the song's length",
            fitted(stem("Drums.wav"), stem("Keys.wav"), v2_s=58.0),
            Expected(
                stem="Bass v2.wav",
                says=("the newest is Bass v2.wav; of the song's length: Bass.wav",),
                facts={"fit_length": ("Bass.wav",)},
            ),
        ),
        planted(
            "none of them fits",
            fitted(stem("Drums.wav", seconds=40.0), stem("Keys.wav", seconds=40.0), v2_s=58.0),
            Expected(stem="Bass v2.wav", says=("; of the song's length: none of them",)),
        ),
        planted(
            "11 ms are another length, 9 ms are not, and one other stem tells nothing",
            show(
                *fitted(stem("Drums.wav"), stem("Keys.wav"), v2_s=60.009).songs,
                *fitted(stem("Drums.wav"), stem("Keys.wav"), v2_s=60.011, name="B").songs,
                *fitted(stem("Drums.wav"), v2_s=58.0, name="C").songs,
            ),
            Expected(stem="Bass v2.wav", songs=("A",), facts={"fit": ""}),
            Expected(stem="Bass v2.wav", songs=("B",), facts={"fit_length": ("Bass.wav",)}),
            Expected(stem="Bass v2.wav", songs=("C",), facts={"fit": "", "fit_length": None}),
        ),
        planted(
            "one recording at another level",
            replace(
                fitted(v2_s=60.0),
                copies=(
                    SameAudio(
                        first_song="A", first="Bass.wav", second_song="A", second="Bass v2.wav", lag_frames=0,
                        lag_s=0.0, level_db=1.5, likeness=1.0, share=1.0, opposed=False,
                    ),
                ),
            ),
            Expected(stem="Bass v2.wav", says=("Bass v2.wav is the recording of Bass.wav, 1.5 dB louder",)),
        ),
        clean("different parts", show(song("Night Ferry", stem("Bass.wav"), stem("Bass Synth.wav")))),
        clean("one version only", show(versions(Bass_v2="v2"))),
        clean("one name in two songs", show(versions(Bass="v1"), song("Low Tide", stem("Bass.wav",
              facts={"version": "v2", "version_key": "bass"})))),
        clean("numbered voices", show(versions(Vox_1="(1)", Vox_2="(2)"))),
        at_limit("the same mark in two containers", show(versions(Bass_wav="v2", Bass_aiff="v2"))),
        past_limit("one step of the mark", show(versions(a_v1="v1", a_v2="v2")), Expected(stem="a_v2.wav")),
    ),
    "mix-beside-parts": (
        planted(
            "an exact sum",
            mixed(0.998),
            Expected(stem="Mix.wav", value=0.998, within=0.0001, says=("100%", "Bass.wav, Drums.wav", "60%")),
        ),
        planted("a mastered mix", mixed(0.83), Expected(stem="Mix.wav", value=0.83, within=0.001)),
        planted(
            "two mixes are told once",
            mixed(0.9, PartsFit(stem="Mix no vox.wav", explained=0.95, parts=("Bass.wav", "Drums.wav"))),
            Expected(stem="Mix no vox.wav", value=0.95, within=0.001, says=("so would Mix.wav",)),
        ),
        clean("parts without a mix", show(*songs(1, *BAND))),
        clean("a mix alone", show(*songs(1, "Click.wav", "Mix.wav"))),
        clean("a mix of another song", mixed(0.04)),
        clean("a fit with the click alone", mixed(0.9, parts=("Timecode.wav",))),
        at_limit("59 % explained", mixed(0.59)),
        past_limit("60 % explained", mixed(0.60), Expected(stem="Mix.wav", value=0.60, within=0.001)),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_too_few_songs_is_not_applicable():
    answer = audit_with("missing-role", show(*songs(3, *BAND), odd("Click.wav")))
    assert answer.not_applicable == {"missing-role": 4}


@pytest.mark.parametrize(
    ("marks", "newest"),
    [
        ((None, "v2"), "v2"),
        (("v2", "v10"), "v10"),
        (("v1.9", "v1.10"), "v1.10"),
        ((None, "old"), None),
        (("2025-03-14", "2025-11-02"), "2025-11-02"),
        ((None, "copy", "copy 2"), "copy 2"),
        ((None, "(1)"), "(1)"),
        (("14-03-2025", "01-04-2025", "31-12-2024"), "01-04-2025"),
        (("250314", "250401"), "250401"),
        ((None, "alt"), None),
        (("Kopie", "Kopie 2"), "Kopie 2"),
        ((None, "FINAL"), "FINAL"),
        (("v3", "old v4"), "v3"),
        (("FINAL", "FINAL 2"), "FINAL 2"),
        (("rev A", "rev C", "rev B"), "rev C"),
        ((None, "original"), None),
        ((None, "do not use"), None),
        ((None, "OLD_dont use"), None),
        (("v2", "v2 FINAL"), "v2 FINAL"),
        (("Mix 3", "Mix 12"), "Mix 12"),
    ],
)
def test_order_of_marks(marks: tuple[str | None, ...], newest: str | None):
    stems = [the_stem(mark) for mark in marks]
    for order in (stems, stems[::-1]):
        found = newest_by_mark(order)
        assert found is not None
        assert found.version == newest


@pytest.mark.parametrize(
    "marks",
    [("v2", "FINAL"), ("FINAL", "new"), ("2025-03-14", "v3"), ("v2", "V2"), ("(1)", "v2"), ("v2", "Mix 3")],
)
def test_marks_that_do_not_tell(marks: tuple[str, ...]):
    assert newest_by_mark([the_stem(mark) for mark in marks]) is None


def test_dates_of_a_careless_copy_do_not_tell():
    assert newest_by_date([the_stem("v1", 5), the_stem("v2", 5)]) is None
    assert newest_by_date([the_stem("v1", 7), the_stem("v2", 5)]) == the_stem("v1", 7)


def the_stem(mark: str | None, modified_ns: int = 0) -> Stem:
    made = stem("Bass.wav", facts={"version": mark, "modified_ns": modified_ns})
    return made.stem


def test_settled_by_nothing_is_said():
    same_day = [
        stem(f"{mark}.wav", role="bass", facts={"version": mark, "version_key": "bass", "modified_ns": 5})
        for mark in ("FINAL", "v3")
    ]
    found = findings("two-versions", show(song("Night Ferry", *same_day)))
    assert [f.severity for f in found] == [Severity.WARNING]
    assert "cannot be told" in found[0].message
    assert found[0].measured["newest"] is None


def test_no_full_mix_is_not_applicable():
    assert audit_with("mix-beside-parts", show(*songs(2, *BAND))).not_applicable == {"mix-beside-parts": 2}


@pytest.mark.parametrize(("copy", "told"), [("same", ["duplicate-audio"]), ("other", ["two-versions"])])
def test_a_copy_is_told_once(copy: str, told: list[str]):
    def take(file: str, content_hash: str, version: str | None) -> StemEvidence:
        made = stem(file, facts={"version": version, "version_key": "bass"})
        assert made.audio is not None
        return replace(made, audio=replace(made.audio, content_hash=content_hash))

    evidence = show(song("Night Ferry", take("Bass.wav", "same", None), take("Bass (1).wav", copy, "(1)")))
    found = {rule: findings(rule, evidence) for rule in ("two-versions", "duplicate-audio")}
    assert [rule for rule, said in found.items() if said] == told
    if copy == "same":
        assert "newest" not in found["duplicate-audio"][0].message


def test_the_version_that_follows_the_songs_bars_is_named():
    whole = arranged(changed("Bass v2.wav", 4.0))
    (odd,) = whole.songs
    v2 = next(one for one in odd.stems if one.name == "Bass v2.wav")
    still = changed("Bass.wav", 4.0, at_best=0.0)  # its bars are the song's
    marked = [
        replace(one, stem=replace(one.stem, version_key="bass", version=mark))
        for one, mark in ((still, None), (v2, "v2"))
    ]
    others = [one for one in odd.stems if one.name not in ("Bass.wav", "Bass v2.wav")]
    song_of_two = replace(odd, stems=(*marked, *others))
    (found,) = findings("two-versions", replace(whole, songs=(song_of_two,)))
    assert "of the song's arrangement: Bass.wav" in found.message
    assert found.measured["fit_arrangement"] == ("Bass.wav",)
