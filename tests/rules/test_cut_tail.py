"""cut-tail: last sounds that are cut off instead of dying away."""

from __future__ import annotations

from array import array
from dataclasses import replace
from typing import Any

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import Chroma, ContainerFault, Envelope, FaultKind, HardEnd, Leak
from tests.evidence import findings, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted
from tests.rules.test_damage import CLICK

RATE_HZ = 48_000

NOISE = Envelope(bin_s=0.1, peaks=bytes(600), levels=bytes([240 - 2 * 41] * 600))
"""At −41 dBFS throughout."""


def ending(
    file: str, *, at_s: float = 58.0, level_dbfs: float = -30.0, fall_db: float = 0.5, stops: int = 0,
    hard_stops: int = 0, chroma: Chroma | None = None, envelope: Envelope | None = None, **more: Any,
) -> StemEvidence:  # fmt: skip
    """A stem whose last sound is cut off."""
    made = stem(file, **more)
    end = HardEnd(at_s=at_s, level_dbfs=level_dbfs, fall_db=fall_db, stops=stops, hard_stops=hard_stops)
    part = made.parts[0]
    measures = replace(part.measures, hard_end=end, chroma=chroma, envelope=envelope)
    return replace(made, parts=(replace(part, measures=measures),))


def of(*stems: StemEvidence) -> ShowEvidence:
    """The stems beside three that die away."""
    whole = [ending(file, fall_db=20.0) for file in ("Drums.wav", "Bass.wav", "Keys.wav")]
    return show(song("Night Ferry", *whole, *stems))


def chopped(file: str, at_s: float, *, beats: int = 240) -> ShowEvidence:
    """A stem that stops there, at 120 beats a minute from 0:00 on."""
    whole = of(ending(file, at_s=at_s))
    return replace(
        whole, songs=(replace(whole.songs[0], click=replace(CLICK, beats_s=CLICK.beats_s[:beats])),)
    )


def tonal(share: float) -> Chroma:
    return Chroma(
        hop_s=0.1, classes=array("B"), levels=array("B"), tonal=share, tuning_cents=None, tuning_agreed=0.0
    )


def breaking_off(file: str) -> StemEvidence:
    """Its file ends at −19 dBFS."""
    return ending(
        file, at_s=40.0, seconds=40.0, activity={"last_sound_frame": 40 * RATE_HZ - 1, "end_rms_dbfs": -19.0}
    )


ZEROS_S = (60 * RATE_HZ * 6 + 44 - (8 << 20)) / 6 / RATE_HZ
"""What a minute of 24-bit stereo behind 44 bytes of header holds beyond 8 MiB."""


def with_timecode(level_dbfs: float, leak_dbfs: float) -> list[str | None]:
    """A pad that ends at that level, with timecode of that level in it; who is told to be cut."""
    pad = ending("Pad.wav", level_dbfs=level_dbfs)
    leak = Leak(level_dbfs=leak_dbfs, relative_db=-22.0, best_at_s=0.5, delay_ms=0.0, places=60)
    pad = replace(pad, parts=(replace(pad.parts[0], timecode_leak=leak),))
    return [one.stem for one in findings("cut-tail", of(pad))]


@pytest.mark.parametrize(
    ("level_dbfs", "leak_dbfs", "told"),
    [
        (-32.4, -32.0, False),  # the code stops dead with its file
        (-26.1, -32.0, False),
        (-25.9, -32.0, True),  # louder: music
        (-32.4, -61.0, True),  # less than timecode-bleed tells
    ],
)
def test_the_end_of_timecode_that_leaks_in_cuts_nothing_off(level_dbfs: float, leak_dbfs: float, told: bool):
    assert with_timecode(level_dbfs, leak_dbfs) == ["Pad.wav"] * told


CASES: dict[str, tuple[Case, ...]] = {
    "cut-tail": (
        planted(
            "a chord cut off",
            of(ending("Piano.wav", stops=15)),
            Expected(stem="Piano.wav", value=-30.0, at_s=58.0,
                     says=("at 0:58.000", "−30 dBFS", "as 15 sounds before it did"), advises=("last tail",)),
        ),
        planted("a pad that never rests", of(ending("Pad.wav")),
                Expected(stem="Pad.wav", says=("does not die away, or this one",))),
        planted("one of the ends before is hard, of 20", of(ending("Guitar.wav", stops=20, hard_stops=1)),
                Expected(stem="Guitar.wav")),
        clean("two of 39", of(ending("Guitar.wav", stops=39, hard_stops=2))),
        clean("a synth that ends all its notes so", of(ending("Synth.wav", stops=9, hard_stops=9))),
        clean("all die away", of()),
        clean("a loop", of(ending("Loop.wav"))),
        planted(
            "a chopped break under the name of drums, 2 ms behind its last bar",
            chopped("Drums 2.wav", 58.002),
            Expected(severity="note", stem="Drums 2.wav", at_s=58.002,
                     says=("stops dead at 0:58.002, on a beat of the click", "a chopped break")),
        ),
        planted("4.9 ms behind", chopped("Perc.wav", 58.0049), Expected(severity="note", stem="Perc.wav")),
        planted("5.1 ms behind", chopped("Perc.wav", 58.0051),
                Expected(severity="warning", stem="Perc.wav")),
        planted("4.9 ms ahead of it", chopped("Perc.wav", 57.9951),
                Expected(severity="note", stem="Perc.wav")),
        planted("5.1 ms ahead of it", chopped("Perc.wav", 57.9949),
                Expected(severity="warning", stem="Perc.wav")),
        planted("between two beats", chopped("Perc.wav", 57.7),
                Expected(severity="warning", stem="Perc.wav")),
        planted("a piano there", chopped("Piano.wav", 58.002),
                Expected(severity="warning", stem="Piano.wav")),
        planted("a bar after the click's last beat", chopped("Perc.wav", 58.002, beats=113),
                Expected(severity="note", stem="Perc.wav")),
        planted("two bars after it", chopped("Perc.wav", 58.002, beats=109),
                Expected(severity="warning", stem="Perc.wav")),
        planted("no click", of(ending("Perc.wav", at_s=58.002)),
                Expected(severity="warning", stem="Perc.wav")),
        clean("a riser that stops", of(ending("Piano.wav", role="effects"))),
        clean("a spoken word", of(ending("Guide.wav"))),
        clean("a tick", of(ending("Click.wav"))),
        clean("hiss that ends with its file", of(ending("Lead Vocal.wav", level_dbfs=-36.0, envelope=NOISE))),
        planted("over its hiss", of(ending("Lead Vocal.wav", level_dbfs=-34.0, envelope=NOISE)),
                Expected(stem="Lead Vocal.wav")),
        planted("a steady drone, which is no hiss", of(
            ending("Pad.wav", level_dbfs=-36.0, envelope=NOISE, chroma=tonal(0.51),
                   levels={"active_rms_dbfs": -24.1})), Expected(stem="Pad.wav")),
        clean("hum under chords that have died away", of(
            ending("Pad.wav", level_dbfs=-36.0, envelope=NOISE, chroma=tonal(0.9),
                   levels={"active_rms_dbfs": -23.9}))),
        clean("half a tone", of(ending("Pad.wav", level_dbfs=-36.0, envelope=NOISE, chroma=tonal(0.49),
                                          levels={"active_rms_dbfs": -24.1}))),
        clean("what breaks off while others go on", of(breaking_off("Piano.wav"))),
        clean("a file that is not whole", of(ending("Piano.wav", faults=[
            ContainerFault(kind=FaultKind.TRUNCATED, detail="a third of it is missing")]))),
        planted("one whose name ends otherwise", of(ending("Piano.wav", faults=[
            ContainerFault(kind=FaultKind.WRONG_EXTENSION, detail="holds FLAC")])),
            Expected(stem="Piano.wav")),
        clean("an interrupted copy", of(ending("Piano.wav", activity={
            "zero_tail_frames": round(ZEROS_S * RATE_HZ), "before_tail_rms_dbfs": -19.0}))),
        planted("three of six stems together: a hard ending", of(*[
            ending(file, at_s=58.0 + late) for file, late in
            (("Piano.wav", 0.0), ("Pad.wav", 0.04), ("Organ.wav", 0.02))]),
            Expected(severity="note", at_s=58.0, says=("3 stems are cut off together at 0:58.000",))),
        clean("quiet beside what it plays", of(ending("Piano.wav", level_dbfs=-49.5))),
        planted("not so quiet", of(ending("Piano.wav", level_dbfs=-48.5)), Expected(stem="Piano.wav")),
        at_limit("−50 dBFS", of(ending("Piano.wav", level_dbfs=-50.0, levels={"active_rms_dbfs": -30.0}))),
        past_limit("−49.9 dBFS", of(ending("Piano.wav", level_dbfs=-49.9, levels={"active_rms_dbfs": -30.0})),
                   Expected(stem="Piano.wav", value=-49.9)),
        at_limit("falls by 3 dB", of(ending("Piano.wav", fall_db=3.0))),
        past_limit("by 2.9", of(ending("Piano.wav", fall_db=2.9)), Expected(stem="Piano.wav")),
        clean("by 5 dB where twelve ends died away", of(ending("Piano.wav", fall_db=5.0, stops=12))),
        planted(
            "by 4.9 dB there", of(ending("Piano.wav", fall_db=4.9, stops=12)), Expected(stem="Piano.wav")
        ),
        clean("by 4.9 dB where eleven did", of(ending("Piano.wav", fall_db=4.9, stops=11))),
        clean("or one stopped dead", of(ending("Piano.wav", fall_db=4.9, stops=40, hard_stops=1))),
    ),
}  # fmt: skip


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_the_other_rules_speak_of_what_breaks_off():
    """Else the two clean cases above would be silent for nothing."""
    assert [one.stem for one in findings("length-mismatch", of(breaking_off("Piano.wav")))] == ["Piano.wav"]


def test_two_that_are_cut_at_two_places_are_two():
    cut = of(ending("Piano.wav", at_s=50.0), ending("Pad.wav", at_s=50.06), ending("Organ.wav", at_s=58.0))
    assert {one.stem for one in findings("cut-tail", cut)} == {"Piano.wav", "Pad.wav", "Organ.wav"}


def test_beside_a_hard_ending_another_cut_is_its_own():
    together = [ending(f"{name}.wav") for name in ("Piano", "Pad", "Organ", "Brass")]
    found = findings("cut-tail", of(*together, ending("Strings.wav", at_s=9.0)))
    assert {(one.stem, one.severity.value) for one in found} == {(None, "note"), ("Strings.wav", "warning")}
