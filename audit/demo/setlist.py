"""The invented tour: eight songs, their form, their stems. Act, titles and places exist nowhere else."""

from __future__ import annotations

from dataclasses import dataclass

from audit.demo.grid import SIX_EIGHT
from audit.demo.score import Composition, Section
from audit.facts import Role

ACT = "Saltmarsh Telegraph"
TOUR = "Borrowed Weather Tour"
DATES = (
    ("Ostervik", "Mill Quay Hall"),
    ("Little Harrowgate Sands", "The Kiln Rooms"),
    ("Dunmere", "Ropewalk Theatre"),
    ("Port Aldous", "Customs Shed Four"),
)
CREW = {"Click.wav": Role.CLICK, "Guide.wav": Role.GUIDE}
TIMECODE = {"Timecode.wav": Role.TIMECODE}
RHYTHM = {"Drums.wav": Role.DRUMS, "Bass.wav": Role.BASS}


@dataclass(frozen=True, slots=True, kw_only=True)
class SetListEntry:
    """A song of the demo: folder, music, stems by file name, how loud."""

    folder: str
    song: Composition
    stems: dict[str, Role]
    lufs: float

    @property
    def title(self) -> str:
        return self.song.title


def _form(*sections: tuple[str, int, str, float]) -> tuple[Section, ...]:
    return tuple(
        Section(name=name, bars=bars, chords=tuple(chords.split()), energy=energy)
        for name, bars, chords, energy in sections
    )


SET_LIST = (
    SetListEntry(
        folder="01 - Ninety Harbour Steps",
        song=Composition(
            title="Ninety Harbour Steps", key="A minor", bpm=118,
            sections=_form(
                ("intro", 2, "Am F", 0.35), ("verse", 4, "Am F C G", 0.5), ("chorus", 4, "F C G Am", 0.9),
                ("verse 2", 2, "Am F", 0.55), ("chorus 2", 4, "F C G Am", 1.0), ("end", 1, "Am", 0.7),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Guitar.wav": Role.GUITAR, "Keys.wav": Role.KEYS,
            "Backing Vocals.wav": Role.BACKING_VOCALS, "Lead Vocal.wav": Role.LEAD_VOCAL,
        },
        lufs=-15.0,
    ),
    SetListEntry(
        folder="02 - Tin Roof Almanac",
        song=Composition(
            title="Tin Roof Almanac", key="D major", bpm=104, swing=0.7, click_sound="woodblock",
            sections=_form(
                ("intro", 2, "D G", 0.4), ("verse", 4, "D Bm G A", 0.55), ("chorus", 4, "G A D Bm", 0.85),
                ("outro", 3, "G A D", 0.6), ("end", 1, "D", 0.6),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Keys.wav": Role.KEYS, "Organ.wav": Role.ORGAN,
            "Percussion.wav": Role.PERCUSSION, "Lead Vocal.wav": Role.LEAD_VOCAL,
        },
        lufs=-15.5,
    ),
    SetListEntry(
        folder="03 - Gravel Parade",
        song=Composition(
            title="Gravel Parade", key="E minor", bpm=92, sections=_form(
                ("intro", 2, "Em C", 0.3), ("verse", 4, "Em C G D", 0.5), ("chorus", 4, "C G D Em", 0.8),
                ("end", 1, "Em", 0.6),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Strings.wav": Role.STRINGS, "Piano.wav": Role.PIANO,
            "Lead Vocal.wav": Role.LEAD_VOCAL,
        },
        lufs=-16.0,
    ),
    SetListEntry(
        folder="04 - Velvet Signal Box",
        song=Composition(
            title="Velvet Signal Box", key="F# minor", bpm=126, sections=_form(
                ("intro", 4, "F#m D", 0.45), ("verse", 4, "F#m D A E", 0.6), ("chorus", 4, "D A E F#m", 0.95),
                ("outro", 4, "F#m D", 0.75), ("end", 1, "F#m", 0.7),
            ),
        ),
        stems={
            **CREW, **RHYTHM, "Guitar.wav": Role.GUITAR, "Synth.wav": Role.SYNTH, "Brass.wav": Role.BRASS,
            "Backing Vocals.wav": Role.BACKING_VOCALS,
        },
        lufs=-15.0,
    ),
    SetListEntry(
        folder="05 - Orchard on Wheels",
        song=Composition(
            title="Orchard on Wheels", key="G major", bpm=168, metre=SIX_EIGHT, click_sound="woodblock",
            sections=_form(
                ("intro", 2, "G Em", 0.35), ("verse", 6, "G Em C D", 0.55), ("chorus", 6, "C D G Em", 0.85),
                ("end", 1, "G", 0.6),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Pad.wav": Role.PAD, "Strings.wav": Role.STRINGS,
            "Guitar.wav": Role.GUITAR, "FX.wav": Role.EFFECTS,
        },
        lufs=-15.5,
    ),
    SetListEntry(
        folder="06 - Lantern Tax",
        song=Composition(
            title="Lantern Tax", key="C minor", bpm=110, click_sound="tick", sections=_form(
                ("intro", 2, "Cm Ab", 0.4), ("verse", 4, "Cm Ab Eb Bb", 0.55),
                ("chorus", 4, "Ab Eb Bb Cm", 0.9), ("outro", 3, "Cm Ab Cm", 0.6), ("end", 1, "Cm", 0.6),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Synth.wav": Role.SYNTH, "Percussion.wav": Role.PERCUSSION,
            "Choir.wav": Role.CHOIR,
        },
        lufs=-15.5,
    ),
    SetListEntry(
        folder="07 - Second-Hand Comet",
        song=Composition(
            title="Second-Hand Comet", key="B minor", bpm=132, sections=_form(
                ("intro", 4, "Bm G", 0.45), ("verse", 4, "Bm G D A", 0.6), ("chorus", 4, "G D A Bm", 1.0),
                ("outro", 4, "Bm G", 0.8), ("end", 1, "Bm", 0.7),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Guitar.wav": Role.GUITAR, "Brass.wav": Role.BRASS,
            "Keys.wav": Role.KEYS, "Pad.wav": Role.PAD,
        },
        lufs=-15.0,
    ),
    SetListEntry(
        folder="08 - Postcards to the Weather Ship",
        song=Composition(
            title="Postcards to the Weather Ship", key="E major", bpm=84, sections=_form(
                ("intro", 2, "E C#m", 0.35), ("verse", 4, "E C#m A B", 0.5), ("chorus", 4, "A B E C#m", 0.75),
                ("end", 1, "E", 0.5),
            ),
        ),
        stems={
            **CREW, **TIMECODE, **RHYTHM, "Organ.flac": Role.ORGAN, "Backing Vocals.wav": Role.BACKING_VOCALS,
            "Lead Vocal.wav": Role.LEAD_VOCAL,
        },
        lufs=-16.0,
    ),
)  # fmt: skip
