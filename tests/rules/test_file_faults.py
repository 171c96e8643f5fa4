"""Container faults, samples that are no numbers, lossy files: what the file is as a file."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.findings import Verdict
from audit.results import Cause, FaultKind
from tests.evidence import audit_with, fault, findings, passed_over, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def of(*stems: StemEvidence) -> ShowEvidence:
    return show(song("Night Ferry", *stems))


def broken(file: str, kind: FaultKind, detail: str, **fields: object) -> StemEvidence:
    """A stem with one container fault whose audio could still be read."""
    return stem(file, faults=[fault(kind, detail, **fields)])


def lost(file: str, kind: FaultKind, detail: str) -> StemEvidence:
    """A stem with one container fault that gave no audio at all."""
    return stem(file, faults=[fault(kind, detail)], unreadable=True, failure=detail)


def container_cases(kind: FaultKind, *, other: FaultKind) -> tuple[Case, ...]:
    """What holds for every fault of the container alike; `other` is the one most easily taken for it."""
    return (
        planted(
            "a little of it, with its place",
            of(broken("Bass.wav", kind, "24 frames are wrong", at_frame=48000), stem("Keys.wav")),
            Expected(stem="Bass.wav", at_s=1.0, says=("24 frames are wrong",)),
        ),
        planted(
            "two of it in one file are one finding",
            of(stem("Bass.wav", faults=[fault(kind, "all is wrong"), fault(kind, "a ragged last frame")])),
            Expected(stem="Bass.wav", says=("all is wrong; a ragged last frame",)),
        ),
        planted(
            "in two songs",
            show(
                song("Night Ferry", lost("Bass.wav", kind, "nothing there")),
                song("Low Tide", lost("Keys.wav", kind, "nothing there")),
            ),
            Expected(stem="Bass.wav", songs=("Night Ferry",)),
            Expected(stem="Keys.wav", songs=("Low Tide",)),
        ),
        clean("healthy files", of(stem("Bass.wav"), stem("Keys.flac"))),
        clean("a stem of silence is a healthy file", of(stem("Pad.wav", silent=True))),
        at_limit("the fault most like it", of(broken("Bass.wav", other, "another thing"))),
        past_limit(
            "beside the fault most like it",
            of(stem("Bass.wav", faults=[fault(other, "another thing"), fault(kind, "this thing")])),
            Expected(stem="Bass.wav", says=("this thing",)),
        ),
    )


NOT_HERE = of(
    stem(
        "Bass.wav",
        faults=[
            fault(FaultKind.NOT_ON_DISK, "0 of 8\u00a0640\u00a0044 bytes"),
            fault(FaultKind.UNREADABLE, "garbage"),
        ],
        unreadable=True,
        failure="not on disk",
    )
)

U = FaultKind.UNREADABLE

CRASHED = of(stem("Bass.wav", unreadable=True, failure="it broke down", failure_cause=Cause.OURS))

CASES: dict[str, tuple[Case, ...]] = {
    "unreadable-file": (
        *container_cases(FaultKind.UNREADABLE, other=FaultKind.WRONG_EXTENSION),
        planted(
            "the header reads, the decoder fails, and no fault explains it",
            of(stem("Bass.wav", failure="the decoder stopped after 3 s")),
            Expected(stem="Bass.wav", says=("the decoder stopped after 3 s",)),
        ),
        planted(
            "a sound file of a kind that is not decoded here",
            of(
                stem("Bass.m4a", faults=[fault(U, "AAC", cause=Cause.FORMAT)], unreadable=True, failure="AAC")
            ),
            Expected(stem="Bass.m4a", says=("AAC",), advises=("Bounce this stem as WAV or FLAC",)),
        ),
        planted(
            "no permission to read it",
            of(
                stem(
                    "Bass.wav", faults=[fault(U, "no", cause=Cause.PERMISSION)], unreadable=True, failure="no"
                )
            ),
            Expected(stem="Bass.wav", advises=("Give yourself permission to read it",)),
        ),
        clean("a decoder that broke down says nothing of the file", CRASHED),
        clean("damage says for itself why there is no audio", of(lost("a.flac", FaultKind.DAMAGED, "CRC"))),
        clean("an empty file is empty, not unreadable", of(lost("a.wav", FaultKind.EMPTY, "0 bytes"))),
        clean("a placeholder is not here, not unreadable", NOT_HERE),
    ),
    "empty-file": container_cases(FaultKind.EMPTY, other=FaultKind.UNFINISHED),
    "truncated-file": container_cases(FaultKind.TRUNCATED, other=FaultKind.UNFINISHED),
    "unfinished-header": container_cases(FaultKind.UNFINISHED, other=FaultKind.TRUNCATED),
    "damaged-audio": container_cases(FaultKind.DAMAGED, other=FaultKind.TRUNCATED),
    "not-on-disk": (
        *container_cases(FaultKind.NOT_ON_DISK, other=FaultKind.UNREADABLE),
        planted(
            "beside what a placeholder looks like to a decoder",
            NOT_HERE,
            Expected(stem="Bass.wav", says=("0 of 8\u00a0640\u00a0044 bytes",)),
        ),
    ),
    "wrong-extension": container_cases(FaultKind.WRONG_EXTENSION, other=FaultKind.UNREADABLE),
    "not-finite": (
        planted(
            "one sample",
            of(stem("Synth.wav", bits=32, audio={"not_finite": 1, "not_finite_at_frame": 96000})),
            Expected(stem="Synth.wav", at_s=2.0, says=("1 sample is no number",), facts={"count": 1}),
        ),
        planted(
            "a second of them",
            of(stem("Synth.wav", bits=32, audio={"not_finite": 48000, "not_finite_at_frame": 0})),
            Expected(
                stem="Synth.wav", at_s=0.0, says=("48\u00a0000 samples are",), advises=("in-ears down",)
            ),
        ),
        clean("a float file over full scale", of(stem("Synth.wav", bits=32, peaks={"sample_dbfs": 6.0}))),
        clean("24 bits cannot hold such a thing", of(stem("Synth.wav"))),
        at_limit("none", of(stem("Synth.wav", bits=32, audio={"not_finite": 0}))),
        past_limit(
            "the first sample of the file alone",
            of(stem("Synth.wav", bits=32, audio={"not_finite": 1, "not_finite_at_frame": 0})),
            Expected(stem="Synth.wav", at_s=0.0),
        ),
    ),
    "lossy-file": (
        planted(
            "one among others",
            of(stem("Bass.ogg", lossy=True), stem("Keys.wav")),
            Expected(stem="Bass.ogg", says=("stored as Ogg Vorbis,",), facts={"codec": "VORBIS"}),
        ),
        planted(
            "two of three are named one by one",
            of(stem("Bass.ogg", lossy=True), stem("Pad.ogg", lossy=True), stem("Keys.wav")),
            Expected(stem="Bass.ogg"),
            Expected(stem="Pad.ogg"),
        ),
        planted(
            "a song of nothing else is said once",
            of(stem("Bass.ogg", lossy=True), stem("Keys.ogg", lossy=True)),
            Expected(stem=None, says=("all 2 stems",), facts={"stems": ("Bass.ogg", "Keys.ogg")}),
        ),
        clean("FLAC loses nothing", of(stem("Bass.flac"), stem("Keys.wav"))),
        at_limit("16 bits are few, but not lossy", of(stem("Bass.wav", bits=16))),
        past_limit("a song of one lossy stem", of(stem("Click.ogg", lossy=True)), Expected(stem="Click.ogg")),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_damage_does_not_arise_without_checksums():
    answer = audit_with("damaged-audio", of(stem("Bass.wav"), stem("Keys.flac"), stem("Pad.aiff")))
    assert answer.not_applicable == {"damaged-audio": 2}


def test_damage_of_an_unreadable_flac_stays_open():
    answer = audit_with("damaged-audio", of(stem("Keys.flac", failure="the decoder crashed")))
    assert [(u.stem, u.reason) for u in answer.songs[0].unmeasured] == [("Keys.flac", "the decoder crashed")]


@pytest.mark.parametrize(
    "evidence",
    [
        CRASHED,
        of(stem("Bass.wav", failure="its rate cannot be measured", failure_cause=Cause.OURS)),
        of(stem("Bass.wav", faults=[fault(U, "too many open files", cause=Cause.OURS)], unreadable=True)),
    ],
    ids=["crash", "rate", "too many open files"],
)
def test_what_is_no_fault_of_the_file_is_left_open(evidence: ShowEvidence):
    """rules.md: unreadable file, decoder crash, time-out are unmeasured, with the reason."""
    answer = audit_with("unreadable-file", evidence)
    assert not list(answer.all_findings())
    assert [(gap.rule, gap.stem) for gap in answer.songs[0].unmeasured] == [("unreadable-file", "Bass.wav")]
    assert answer.verdict(answer.songs[0]) is Verdict.INCOMPLETE


def test_a_placeholder_is_spoken_of_once():
    speaking = [rule for rule in CASES if findings(rule, NOT_HERE)]
    assert speaking == ["not-on-disk"]


def test_a_hostile_name_or_detail_is_no_template():
    evidence = of(broken("{value} {0.x}.wav", FaultKind.TRUNCATED, "the header says {limit}"))
    assert [f.message for f in findings("truncated-file", evidence)] == [
        "is cut short: the header says {limit}"
    ]


def test_passed_over_files_are_no_stems():
    litter = [passed_over("Night Ferry/cover.jpg")]
    evidence = show(song("Night Ferry", stem("Bass.wav"), passed_over=litter))
    assert not [rule for rule in CASES if findings(rule, evidence)]


@pytest.mark.parametrize(
    ("encoding", "called"),
    [("MPEG_LAYER_III", "MP3"), ("VORBIS", "Ogg Vorbis"), ("OPUS", "Opus"), ("NMS_ADPCM_24", "NMS ADPCM 24")],
)
def test_codecs_are_called_as_musicians_know_them(encoding: str, called: str):
    made = stem("Bass.mp3", lossy=True)
    assert made.format is not None
    coded = replace(made, format=replace(made.format, encoding=encoding))
    (hit,) = audit_with("lossy-file", of(coded, stem("Keys.wav"))).all_findings()
    assert hit.message == f"stored as {called}, which is lossy"
