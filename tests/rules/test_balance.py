"""role-level-outlier: a role's place in the mix against its place in the show's other songs."""

from __future__ import annotations

import pytest

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.rules.balance import role_levels
from tests.evidence import audit_with, find_rule, findings, mix, show, song, stem
from tests.rules.cases import Case, Expected, at_limit, check, clean, listed, past_limit, planted


def at(file: str, lufs: float, **more: float) -> StemEvidence:
    return stem(file, loudness={"integrated_lufs": lufs}, activity={"active_s": more.get("active_s", 50.0)})


def a_song(name: str, *stems: StemEvidence, lufs: float = -14.0) -> SongEvidence:
    made = mix(loudness={"integrated_lufs": lufs}, from_stems=tuple(one.name for one in stems))
    return song(name, *stems, mix=made)


def the_show(*odd: StemEvidence, others: int = 5, lufs: float = -14.0, spread: float = 0.0) -> ShowEvidence:
    """Songs of bass, drums and keys at −20, −17 and −22 LUFS, spread evenly around that, and the odd one."""
    usual = [
        a_song(
            f"Song {n}",
            at("Bass.wav", -20.0 + spread * (n - (others - 1) / 2)),
            at("Drums.wav", -17.0),
            at("Keys.wav", -22.0),
        )
        for n in range(others)
    ]
    return show(*usual, a_song("Odd", *odd, lufs=lufs))


def odd(bass: float, drums: float = -17.0, keys: float = -22.0) -> tuple[StemEvidence, ...]:
    return at("Bass.wav", bass), at("Drums.wav", drums), at("Keys.wav", keys)


def differing(*roles: str) -> ShowEvidence:
    """Seven songs in which a bass lies alike, but 10 dB louder in the last; the named roles do not."""
    return show(
        *[
            a_song(
                f"Song {n}",
                at("Bass.wav", -8.0 if n == 6 else -18.0),
                at("Guitar.wav", -18.0),
                *[
                    at(f"{role}.wav", -50.0 + (8.0 * step if role in roles else 0.0))
                    for role in ("Drums", "Keys", "Pad")
                ],
            )
            for n, step in enumerate((-2, -1, 0, 1, 2, -1, 1))
        ]
    )


CASES: dict[str, tuple[Case, ...]] = {
    "role-level-outlier": (
        planted(
            "a bass far too loud",
            the_show(*odd(-10.0)),
            Expected(
                stem="Bass.wav",
                songs=("Odd",),
                value=10.0,
                says=("10.0 LU louder", "+5.8 LU against the rest"),
            ),
        ),
        planted(
            "keys far too quiet",
            the_show(*odd(-20.0, keys=-31.0)),
            Expected(stem="Keys.wav", value=-9.0, says=("9.0 LU quieter",), advises=("9 dB up",)),
        ),
        planted(
            "one stem that drowns the mix does not make the others quiet",
            the_show(*odd(-20.0, drums=-5.0), lufs=-4.0),
            Expected(stem="Drums.wav", value=12.0),
        ),
        planted(
            "two stems of a role are one sound",
            the_show(at("Bass.wav", -10.0), at("Bass 2.wav", -10.0), *odd(0.0)[1:]),
            Expected(stem=None, value=13.0, facts={"stems": "Bass.wav, Bass 2.wav"}),
        ),
        clean("all alike", the_show(*odd(-20.0))),
        clean("the song as a whole is quiet", the_show(*odd(-35.0, -32.0, -37.0), lufs=-29.0)),
        clean("a role that varies over the show", the_show(*odd(-12.5), spread=4.0)),
        planted(
            "a bass that drowns everything, with three songs to compare",
            the_show(*odd(-5.0), others=3),
            Expected(
                stem="Bass.wav",
                value=15.0,
                says=("15.0 LU louder", "limit 10.0 LU"),
                advises=("15 dB down", "PA and in-ears down", "sound pressure"),
            ),
        ),
        clean("too few songs", the_show(*odd(-5.0), others=2)),
        clean("9 LU in four songs", the_show(*odd(-11.0), others=3)),
        clean(
            "12 LU in four songs, one of which is as loud",
            show(*the_show(*odd(-8.0), others=2).songs, a_song("Too", *odd(-8.0))),
        ),
        at_limit("10 LU in four songs", the_show(*odd(-10.0), others=3)),
        past_limit(
            "10.1 LU in four songs",
            the_show(*odd(-9.9), others=3),
            Expected(stem="Bass.wav", value=10.1, within=0.01),
        ),
        clean("a few notes only", the_show(at("Bass.wav", -5.0, active_s=9.9), *odd(0.0)[1:])),
        clean(
            "effects and what nobody knows",
            show(*[a_song(f"{n}", at("FX.wav", -40.0 + 8 * n), at("Odd.wav", -8.0 * n)) for n in range(6)]),
        ),
        clean("no mix to compare with", show(*[song(f"{n}", at("Bass.wav", -8.0 * n)) for n in range(6)])),
        clean(
            "a sparse bass in a full arrangement", the_show(*odd(-25.0, drums=-13.0, keys=-18.0), lufs=-12.0)
        ),
        at_limit("6 LU", the_show(*odd(-14.0))),
        past_limit("6.1 LU", the_show(*odd(-13.9)), Expected(stem="Bass.wav", value=6.1, within=0.01)),
        at_limit(
            "three deviations of 2.97 LU, 1.4 of them, as five others are few",
            the_show(*odd(-7.6), spread=2.0),
        ),
        past_limit(
            "a little past them",
            the_show(*odd(-7.5), spread=2.0),
            Expected(stem="Bass.wav", value=12.5, says=("limit 12.5 LU",)),
        ),
        clean("a bass that lay alike by chance, where roles do not", differing("Drums", "Keys", "Pad")),
        planted(
            "such a bass where one role differs, and two do not",
            differing("Drums"),
            Expected(stem="Bass.wav", value=10.0, within=0.3),
        ),
    ),
}


@pytest.mark.parametrize(("rule_id", "case"), listed(CASES))
def test_case(rule_id: str, case: Case):
    check(rule_id, case)


def test_energies_add_up():
    """Two stems of −20 LUFS are −16.99 LUFS together: 10·log10(2) = 3.01."""
    levels = role_levels(
        a_song("A", at("Bass.wav", -20.0), at("Bass 2.wav", -20.0), at("FX.wav", -20.0)), 10.0
    )
    assert list(levels) == [Role.BASS]
    assert levels[Role.BASS].lufs == pytest.approx(-16.99, abs=0.001)
    assert levels[Role.BASS].in_mix == pytest.approx(3.01, abs=0.001)


def test_a_role_alone_has_no_place_in_a_mix():
    assert role_levels(a_song("A", at("Bass.wav", -20.0)), 10.0) == {}


def test_the_role_itself_has_to_be_off():
    """The others grow quieter: the bass stands out in the mix, and is what it always was."""
    quiet = the_show(*odd(-20.0, drums=-29.0, keys=-34.0))
    assert [f.stem for f in findings("role-level-outlier", quiet)] == ["Drums.wav", "Keys.wav"]


def test_stems_outside_the_mix_do_not_count():
    made = song("A", at("Bass.wav", -20.0), at("Keys.wav", -20.0), mix=mix(from_stems=("Bass.wav",)))
    assert role_levels(made, 10.0) == {}


def test_too_few_songs_are_not_applicable():
    asked = audit_with("role-level-outlier", the_show(*odd(-20.0), others=2))
    assert asked.not_applicable == {"role-level-outlier": 3}
    assert find_rule("role-level-outlier").family == "level"
