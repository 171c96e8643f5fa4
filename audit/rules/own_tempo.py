"""Stems that keep to another tempo than the click that their song's other stems keep to.

    own_tempi(song, show) -> [(stem, Pulse)]      tempo_of_its_own(stem) -> Pulse | None
    own_tempo_hit(...) -> Hit                     camp_hit(...) -> Hit, for most stems of a song

They come from a version of another tempo, or from another song that the show does not hold.
"""

from __future__ import annotations

from collections.abc import Sequence

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import Pulse
from audit.rules.foreign import foreign_stem, strangers
from audit.rules.parts import listed
from audit.rules.phases import MARKING, sure_phases
from audit.rules.rule import Hit
from audit.units import count

SLIDES = 0.0025
"""What is off by less slides: that is told with its bounds."""

STRUCK = MARKING | {Role.BASS, Role.GUITAR, Role.KEYS, Role.PIANO}
"""Roles whose strokes are the song's: an echo and an arpeggio of its own clock are not."""

CLOCKS = frozenset({Role.LOOP, Role.PERCUSSION})
"""Roles that may hold a clock or a heart, which are meant to keep a time of their own: a warning."""

HARDLY = 0.01
"""By so little another tempo leads nobody's harmony away, and few tremolos come so near to a part of the
beat: a warning."""

TURN, TURN_BETTER = 0.1, 1.5
"""How turns of chord have to gather at a stem's own tempo, and how many times better than on the click; as
well as on it where its harmony is known to have left the others'. Own measurement: 1.5 at most of stems as
they were, mostly 2 to 12 of stretched ones. Nobody plays what marks the beat through a tremolo, which has a
pulse of its own, as a synth's wobble has."""

ANY, NEAR = 0.35, 0.12
"""How far the tempo of drums may lie from the click's, and that of others: the multiple of it that a pulse is
taken for may be the wrong one."""

FEWEST, FIT, ERROR_FIT = 60, 0.65, 0.75
"""Onsets that others than those that mark the beat need; how they have to gather, and what is an error."""

SAME = 0.003
"""Two tempi that differ by no more are one."""


def tempo_of_its_own(stem: StemEvidence) -> Pulse | None:
    """The pulse of a stem that surely keeps to another tempo than its song."""
    pulse = stem.alignment.own_pulse if stem.alignment is not None else None
    if pulse is None or stem.silent or stem.role is Role.EFFECTS:
        return None
    marks = stem.role in MARKING
    off = abs(pulse.tempo_ratio - 1.0)
    if not SLIDES < off <= (ANY if stem.role is Role.DRUMS else NEAR):
        return None
    if marks:
        return pulse
    sure = pulse.onsets >= FEWEST and pulse.fit >= FIT
    return pulse if sure and (off <= HARDLY or _is_its_own(stem, pulse)) else None


def _is_its_own(stem: StemEvidence, pulse: Pulse) -> bool:
    """Whether it is the music that has this pulse, for all that is known."""
    if stem.role in MARKING:
        return True
    on_click, own = pulse.turns or (0.0, 0.0)
    better = 1.0 if pulse.harmony is not None else TURN_BETTER
    return own >= max(TURN, better * on_click)


def own_tempi(song: SongEvidence, show: ShowEvidence) -> list[tuple[StemEvidence, Pulse]]:
    """The stems of the song at another tempo. One that is told to belong to another song is told so alone."""
    found = [(stem, pulse) for stem in song.stems if (pulse := tempo_of_its_own(stem)) is not None]
    if not found or len(show.songs) < 2:
        return found
    assert foreign_stem.limit is not None
    elsewhere = {stem.name for stem, _ in strangers(song, show, foreign_stem.limit)}
    return [(stem, pulse) for stem, pulse in found if stem.name not in elsewhere]


def camp(song: SongEvidence, found: Sequence[tuple[StemEvidence, Pulse]]) -> list[tuple[StemEvidence, Pulse]]:
    """Those of one tempo where they are more than the stems that keep to the click; else none."""
    keeping = len(sure_phases(song))
    for _, pulse in found:
        alike = [one for one in found if abs(one[1].tempo_ratio / pulse.tempo_ratio - 1.0) <= SAME]
        if len(alike) >= 2 and len(alike) > keeping:
            return alike
    return []


def own_tempo_hit(stem: StemEvidence, pulse: Pulse, song: SongEvidence) -> Hit:
    bpm = song.click.bpm if song.click is not None and song.click.bpm is not None else 0.0
    keeping = [name for name, _, _ in sure_phases(song)]
    error = (
        stem.role in STRUCK - CLOCKS
        and pulse.fit >= ERROR_FIT
        and len(keeping) >= 2
        and _is_its_own(stem, pulse)
    )
    return Hit(
        stem=stem.name,
        value=(1.0 / pulse.tempo_ratio - 1.0) * 1e6,
        severity=Severity.ERROR if error else Severity.WARNING,
        confidence=pulse.fit,
        message="keeps to {stem_bpm:.1f} beats a minute or a multiple of it, the click{with_others} to "
        "{click_bpm:.1f}: it was made at another tempo",
        cure="Bounce it again from bar 1 of the current version, at the click's tempo."
        if error
        else "Listen to it with the click. If an effect, a tremolo or a recorded clock makes these strokes, "
        "leave it; if not, bounce it again from bar 1 of the current version, at the click's tempo.",
        again="at the tempo of the click, from bar 1 of the current version",
        facts={
            "stem_bpm": bpm * pulse.tempo_ratio,
            "click_bpm": bpm,
            "with_others": f", with {listed(tuple(keeping), 3)}," if keeping else "",
            "fit": pulse.fit,
            "on_click": pulse.on_click,
            "onsets": pulse.onsets,
        },
    )


def camp_hit(alike: Sequence[tuple[StemEvidence, Pulse]], song: SongEvidence) -> Hit:
    """Most stems are of one other tempo: nobody knows which camp is the current one."""
    bpm = song.click.bpm if song.click is not None and song.click.bpm is not None else 0.0
    _, best = max(alike, key=lambda one: one[1].fit)
    names = tuple(stem.name for stem, _ in alike)
    keeping = tuple(name for name, _, _ in sure_phases(song))
    return Hit(
        value=(1.0 / best.tempo_ratio - 1.0) * 1e6,
        severity=Severity.WARNING,
        message="two tempi: {stems} keep to {stem_bpm:.1f} beats a minute or a multiple of it ({listed}), "
        "the click{with_others} to {click_bpm:.1f}",
        cure="Find out which tempo is the current one, and bounce again what has the other: stems and click "
        "from one session.",
        again="at the song's current tempo, click and stems from one session",
        facts={
            "stems": count(len(names), "stem"),
            "stem_bpm": bpm * best.tempo_ratio,
            "click_bpm": bpm,
            "listed": listed(names, 4),
            "with_others": f" and {listed(keeping, 3)}" if keeping else "",
            "fit": best.fit,
            "on_click": best.on_click,
        },
    )
