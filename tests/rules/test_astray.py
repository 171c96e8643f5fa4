"""shifted-by-beats and stale-arrangement leave stems in another key, or of another song, to the rules for
these: their chords fit nobody as they stand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.evidence import ShowEvidence, StemEvidence
from audit.results import Elsewhere, FirstAndLast, KeyFit, RhythmFit
from audit.rules.arrangement import follows_another_arrangement
from audit.rules.astray import astray_by_default
from audit.rules.keys import key_mismatch
from audit.rules.rule import Limit
from audit.rules.shifted import off_by_beats
from tests.evidence import audit_with, findings, show
from tests.rules.test_arrangement import OTHERS, band, changed, faint_bar, shifted
from tests.rules.test_key_mismatch import AT_HOME, fit

A_TONE_UP = fit(2, 0.0, 0.85, long_gain=0.9)
NEARLY = fit(2, 0.5, 0.85)
"""Too good as it stands for key-mismatch."""


def among(odd: StemEvidence, key: KeyFit | None) -> ShowEvidence:
    """The stem with that key, among three that fit one another."""
    whole = band(odd)
    (home,) = whole.songs
    stems = tuple(
        replace(one, key=key if one.name == odd.name else AT_HOME if one.name in OTHERS else None)
        for one in home.stems
    )
    return replace(whole, songs=(replace(home, stems=stems),))


def rules_of(whole: ShowEvidence) -> list[str]:
    ids = ("shifted-by-beats", "stale-arrangement", "key-mismatch", "foreign-stem")
    return [one.rule for rule in ids for one in findings(rule, whole)]


@pytest.mark.parametrize(
    ("odd", "said"),
    [
        (shifted("Piano.wav", 4.0), "shifted-by-beats"),
        (shifted("Piano.wav", -1.0), "shifted-by-beats"),
        (faint_bar(), "shifted-by-beats"),
        (changed("Piano.wav", 4.0), "stale-arrangement"),
    ],
)
def test_of_a_transposed_stem_the_key_alone_is_told(odd: StemEvidence, said: str):
    assert rules_of(among(odd, A_TONE_UP)) == ["key-mismatch"]
    assert rules_of(among(odd, AT_HOME)) == [said]
    assert rules_of(among(odd, NEARLY)) == [said]


def test_where_the_settings_let_the_key_pass_its_place_is_told():
    whole = among(shifted("Piano.wav", 4.0), A_TONE_UP)
    assert key_mismatch.limit is not None
    lax = Limit(
        value=9.0,
        unit="correlation",
        more={**key_mismatch.limit.more, "tone": 9.0, "scale": 9.0, "whole_tone": 9.0, "evidence": 9.0},
    )
    for rule in ("shifted-by-beats", "key-mismatch"):
        found = audit_with(rule, whole, limits={"key-mismatch": lax}).all_findings()
        assert bool(list(found)) is (rule == "shifted-by-beats")


def test_where_a_transposed_stem_begins_and_ends_is_told_all_the_same():
    edges = {"Piano.wav": FirstAndLast(first_beats=12.0, last_beats=108.0, on_beats=0.9, strokes=80)}
    odd = shifted("Piano.wav", 4.0)
    whole = among(odd, A_TONE_UP)
    (home,) = whole.songs
    usual = FirstAndLast(first_beats=8.0, last_beats=104.0, on_beats=0.9, strokes=80)
    stems = tuple(
        replace(one, alignment=replace(one.alignment, first_and_last=edges.get(one.name, usual), beats=None))
        for one in home.stems
        if one.alignment is not None
    )
    framed = replace(whole, songs=(replace(home, stems=stems),))
    assert rules_of(framed) == ["shifted-by-beats", "key-mismatch"]


@pytest.mark.parametrize("odd", [shifted("Piano.wav", 4.0), changed("Piano.wav", 4.0)])
def test_of_another_song_s_stem_that_alone_is_told(odd: StemEvidence):
    poor = RhythmFit(fit=0.1, first_half=0.1, second_half=0.1, onsets=120)
    good = RhythmFit(fit=0.9, first_half=0.9, second_half=0.9, onsets=120)
    whole = among(replace(odd, rhythm=poor), None)
    other = replace(band().songs[0], song=replace(band().songs[0].song, name="Tin Roof"))
    both = show(whole.songs[0], other)
    there = (Elsewhere(song="Tin Roof", key=None, rhythm=good),)
    (home, _) = both.songs
    stems = tuple(replace(one, elsewhere=there if one.name == odd.name else ()) for one in home.stems)
    strange = replace(both, songs=(replace(home, stems=stems), other))
    assert rules_of(strange) == ["foreign-stem"]
    assert rules_of(both) != ["foreign-stem"]
    assert len(rules_of(both)) == 1


def test_who_asks_of_others_findings_hears_the_same():
    """What is not said is no reason for another rule to keep silent."""
    for odd in (shifted("Piano.wav", 4.0), changed("Piano.wav", 4.0)):
        for key, off in ((A_TONE_UP, False), (AT_HOME, True)):
            whole = among(odd, key)
            (home,) = whole.songs
            assert off_by_beats(home.stems[-1], home, whole) is off
    whole = among(changed("Piano.wav", 4.0), A_TONE_UP)
    (home,) = whole.songs
    assert not follows_another_arrangement(home, home.stems[-1], whole)
    assert "Piano.wav" in astray_by_default(whole, home.name)
    assert "Piano.wav" not in astray_by_default(whole, "No Such Song")
