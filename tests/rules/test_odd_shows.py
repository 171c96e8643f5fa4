"""Shows that are put together oddly and right: what they have in common and what not is no fault."""

from __future__ import annotations

import pytest

from audit.evidence import SongEvidence
from audit.findings import Finding
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from tests.evidence import mix, show, song, stem

ASKED = (
    "sample-rate-mismatch", "bit-depth-mismatch", "channel-count-mismatch", "missing-role", "click-tempo",
    "click-count-in", "crew-level-jump", "timecode-rate", "output-moved", "role-level-outlier",
)  # fmt: skip
"""The rules that compare a song with the show."""

BAND = ("Drums", "Bass", "Guitar", "Keys", "Pad", "Lead Vocal", "Backing Vocals", "Synth")


def band(name: str, *, ltc: bool = True, crew: bool = True, **form: int) -> SongEvidence:
    stems = [stem(f"{each}.wav", **form) for each in BAND]
    stems += [stem("Click.wav", channels=1, **form)] if crew else []
    stems += [stem("LTC.wav", role="timecode", channels=1, **form)] if ltc and crew else []
    return song(name, *stems, mix=mix())


def clicks(number: int, *, ltc: bool = False, **form: int) -> list[SongEvidence]:
    """Songs that hold a click alone, or click and timecode."""
    code = [stem("LTC.wav", role="timecode", channels=1, **form)] if ltc else []
    return [song(f"Click {n}", stem("Click.wav", channels=1, **form), *code) for n in range(number)]


def duo(name: str = "Duo") -> SongEvidence:
    return song(name, stem("Piano.wav"), stem("Lead Vocal.wav"), mix=mix())


def told(*songs: SongEvidence) -> list[Finding]:
    rules = [rule for rule in RULES if rule.id in ASKED]
    assert len(rules) == len(ASKED)
    return list(judge(show(*songs), rules, version="test").all_findings())


@pytest.mark.parametrize(
    "songs",
    [
        [duo()],
        [song("One stem", stem("Playback.wav"))],
        [band("A"), duo()],
        [band("A"), *clicks(1)],
        [band("A", ltc=False), *clicks(1, ltc=True)],
        [*clicks(9), band("A"), band("B")],
        [*clicks(9), *clicks(0), band("A", ltc=False)],
        [*clicks(12)],
        [*clicks(3), duo(), band("A"), song("Empty")],
        [band("A", crew=False), band("B"), duo("C"), duo("D")],
    ],
    ids=[
        "one song of two stems", "one song of one stem", "two songs, one of them small", "a band and a click",
        "timecode only beside the click", "mostly clicks", "a band among clicks", "nothing but clicks",
        "a bit of everything", "two songs of either kind",
    ],
)  # fmt: skip
def test_odd_shows_are_silent(songs: list[SongEvidence]):
    assert told(*songs) == []


@pytest.mark.parametrize("trait", [{"rate_hz": 44100}, {"bits": 16}], ids=["rate", "depth"])
def test_many_small_songs_and_few_large_ones_accuse_nobody_by_name(trait: dict[str, int]):
    """Twenty files in two songs against ten files in ten: said once, with both camps."""
    (finding,) = told(*clicks(10), band("A", **trait), band("B", **trait))
    assert len(finding.songs) == 12
    assert "most files have one, most songs another" in finding.message
    (alike,) = told(*clicks(10), band("A"), band("B", **trait))  # files and songs agree: B is the odd one
    assert alike.songs == ("B",)


def test_a_click_that_is_16_bit_everywhere_is_a_note():
    songs = [
        song(f"Song {n}", stem("Click.wav", channels=1, bits=16), stem("Bass.wav"), stem("Keys.wav"))
        for n in range(3)
    ]
    (finding,) = told(*songs)
    assert (finding.severity.value, finding.stem, len(finding.songs)) == ("note", None, 3)
