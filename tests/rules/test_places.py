"""Which songs a role's habit is learned from, where some lie beside their click as a whole."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import SongEvidence
from audit.facts import Role
from audit.rules.places import habits, lie_off
from tests.evidence import findings, show
from tests.rules.test_alignment import BAND, CLICK, band
from tests.rules.test_zero import beside, ordinary, without


def test_a_song_that_lies_off_teaches_no_habit_unless_its_zero_is_known():
    """Without a tempo nobody can tell the zero of the first; that of the second is known by its drums."""
    unknown = band("No Tempo", dict.fromkeys(BAND, 45.0))
    songs = show(*ordinary(5), unknown, beside())
    assert lie_off(songs) == {"No Tempo", "Night Ferry"}
    bass = habits(songs, without="Other 0")[Role.BASS]
    assert (bass.songs, bass.usual_ms) == (5, 0.0)
    assert habits(songs, without="Night Ferry")[Role.BASS].songs == 5  # nor does a song teach its own


@pytest.mark.parametrize(
    ("on_click", "off_click", "role", "lent", "songs"),
    [
        ("Guitar.wav", "Keys.wav", Role.KEYS, False, 4),  # its own, rather than guitars'
        ("Guitar.wav", "Guitar.wav", Role.PIANO, True, 3),  # both are guitars': the surer ones
        (None, "Guitar.wav", Role.PIANO, True, 4),  # these, or none at all
        ("Keys.wav", "Keys.wav", Role.KEYS, False, 3),
    ],
)
def test_whose_habit_counts_where_zeros_are_guessed(
    on_click: str | None, off_click: str, role: Role, lent: bool, songs: int
):
    """Three songs on their click, and four beside it without drums, which would tell their zeros."""
    one_of = {"Guitar.wav", "Keys.wav"}
    surely = [without(one, *(one_of - {on_click})) for one in ordinary(3)]
    guessed = [without(beside(f"Beside {n}"), "Drums.wav", *(one_of - {off_click})) for n in range(4)]
    habit = habits(show(*surely, *guessed), without="Night Ferry")[role]
    assert (habit.lent, habit.songs) == (lent, songs)


def after_its_band(name: str, *, guitar_ms: float, band_ms: float) -> SongEvidence:
    """A song whose guitar is steadier against the click than against the others."""
    return band(name, {**dict.fromkeys(BAND, band_ms), "Guitar.wav": guitar_ms})


@pytest.mark.parametrize(
    ("other", "severity"),
    [
        (after_its_band("Salt Road", guitar_ms=35.0, band_ms=8.0), "note"),  # late there as well
        (after_its_band("Salt Road", guitar_ms=35.0, band_ms=43.0), "error"),  # there the whole song is late
        (beside("Salt Road", Guitar=35.0), "note"),  # late there too, past its band
        (beside("Salt Road"), "error"),
    ],
)
def test_a_guitar_is_as_late_in_another_song_only_where_it_is_late_beside_its_band(
    other: SongEvidence, severity: str
):
    places = enumerate((6.0, 8.0, 10.0, 6.0, 8.0, 10.0))
    others = [after_its_band(f"Other {n}", guitar_ms=0.0, band_ms=at) for n, at in places]
    odd = replace(after_its_band("Night Ferry", guitar_ms=35.0, band_ms=8.0), click=CLICK)
    evidence = show(odd, *others, other)
    assert habits(evidence, without="Night Ferry")[Role.GUITAR].by_click
    (one,) = [one for one in findings("offset-from-click", evidence) if one.songs == ("Night Ferry",)]
    assert (one.stem, one.severity.value) == ("Guitar.wav", severity)
