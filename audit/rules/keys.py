"""A stem in another key than its song."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.results import KeyFit
from audit.rules.foreign import foreign_stem, strangers
from audit.rules.key_words import key_hit, two_hit
from audit.rules.own_tempo import tempo_of_its_own
from audit.rules.rule import Limit, NotApplicable, Outcome, rule
from audit.rules.wrong_rate import at_wrong_rate, wrong_rate_header

LINE = 1.7
"""Fewer classes at once than this are a line: a bass or a tune."""

BARE = 2.3
"""Fewer than this are chords without thirds."""

TWO_PARTS = 2.15
"""Two parts, or a chord broken into its upper tones: the third and fifth of a chord are root and third of the
one a fifth above, so these say nothing of fourths and fifths. Own measurement: two-part harmonies and a
broken chord 2.0 to 2.1, guitars and keys from 2.3."""

DOUBLED, BASS_DOUBLED = (3, 4, 5), (5,)
"""Semitones, up or down, that lines are doubled at: thirds and fourths, and so sixths and fifths; basses are
not in thirds (common practice)."""

ENOUGH_CHORDS = 4
"""Other stems from which on a bass that fits as it is, too, may be told a fourth or fifth off."""

Fitted = tuple[StemEvidence, KeyFit]
"""A stem, and how it fits the others' harmony."""


@rule(
    id="key-mismatch",
    family="identity",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(wrong_rate_header,),
    limit=Limit(
        value=0.35,
        unit="correlation",
        more={
            "turned": 0.42, "as_is": 0.45, "tone": 1.6, "parallel": 0.7, "evidence": 1.05,
            "bass_evidence": 0.8, "part": 0.25, "thirds": 0.7, "fifth": 0.45, "changes": 0.3,
            "bare_ninth": 0.2, "ninth": 0.06, "ninths": 0.13, "fifths": 0.4, "bass_fifth": 0.2,
            "follows": 0.15, "scale": 1.0, "scale_turned": 0.3,
            "lead": 0.15, "faint": 0.2, "moves": 0.1, "semitone": 0.85, "tone_as_is": 0.22,
            "whole_tone": 1.0, "tune_surely": 1.5, "short_s": 8.0, "short_tune_s": 20.0,
        },
    ),
    message="stands {semitones_text} {above}{or_above} the song's other stems{tuning}: transposed so its "
    "chords are {there} alike to theirs, as it is {here}",
    cure="Find out which version has the right key, transpose the session of this stem {semitones_text} "
    "{back}{or_back}, and bounce it again.",
    cure_in_general="Find out which version has the right key, transpose the session of this stem back by "
    "the semitones that the finding names, and bounce it again.",
    again="transposed {semitones_text} {back}{or_back}",
    means="One stem is in another key than the rest of the song, by whole semitones: it fits them far better "
    "({limit:.2f} and more) after a transposition.",
    on_stage="Every note of it is wrong against the band and the other stems, from first to last.",
    measured="Which pitch classes sound, in frames of half a second, against those of the other stems at "
    "the same times, as it is and moved by 1 to 6 semitones up and down: chord by chord, over eight seconds"
    " (the scale), and what comes and goes (the changes). The better fit has to show in both halves of the "
    "song and against one other stem alone, be at least {turned:.2f}, and bad as it is ({as_is:.2f} and "
    "less); and it must explain more than any other stem would, transposed by anything. What fits nearly as"
    " well is named beside it, and makes it a warning if neither is a semitone. A semitone is told "
    "where chords and scale gain {semitone:.2f} together, a "
    "whole tone, whose keys share five notes, from {whole_tone:.1f} in all three where it fits badly as it "
    "is ({tone_as_is:.2f} and less; of no tune) and moves with the chords ({follows:.2f}), else from "
    "{tone:.1f}, of a tune as below; what does not move with the chords, as speech, has to fit well. "
    "A fourth or fifth takes the changes ({changes:.1f}) and the thirds of chords of three parts "
    "({thirds:.2f}), or for "
    "a bass the fourths or ninths that it then plays (beside fewer than four others a bad fit as it is, "
    "too). A tune is told by its scale ({scale:.1f} more), and not of a fourth or fifth. By more than a "
    "semitone, chords have to follow in their changes ({follows:.2f}) or in their thirds, a tune in its "
    "changes or by {tune_surely:.1f} of scale (by a whole tone in its changes). Neither a tune by thirds, "
    "fourths or fifths nor, a fourth or fifth off, chords and basses are told where another line doubles "
    "them there ({parallel:.1f}). Not asked of drums, effects, drones, percussion that plays no notes, and "
    "stems that sound with others for less than 6 s; of other percussion, and below {short_s:g} s (tunes "
    "{short_tune_s:g} s), only a semitone or a whole tone is told, where it moves with the chords. All "
    "stems may change key together. Where half of the stems stand so, nothing is told, nor where a bass and"
    " one other stem differ by a whole tone: chords whose root is left to the bass look so.",
    source="Own measurement on rendered songs; chroma after Fujishima 1999 and Gómez 2006 (from memory).",
)  # fmt: skip
def key_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    asked = _asked(song, limit)
    if not asked:
        yield NotApplicable(reason="fewer than two stems with harmony")
        return
    foreign = {stem.name for stem, _ in strangers(song, show, foreign_stem.limit or limit)}
    found = [
        (stem, fit)
        for stem, fit in asked
        if stem.name not in foreign
        and is_transposed(stem, fit, limit)
        and not (fit.others == 1 and _may_be_left_by_a_bass(asked, fit))
    ]
    if found and _are_two_alone(asked):
        if not foreign:
            yield two_hit(asked, *found[0], _decided(*found[0], limit))
        return
    for stem, fit in _outnumbered(found, asked):
        yield key_hit(song, stem, fit, _decided(stem, fit, limit))


def _asked(song: SongEvidence, limit: Limit) -> list[Fitted]:
    """Those whose key can be told, but for those at another speed: a wrong rate in the header moves the key
    with it, and is told as what it is; at another tempo than its song a stem meets other chords than its
    own."""
    at_another_rate = at_wrong_rate(song, limit.of(wrong_rate_header))
    return [
        (stem, stem.key)
        for stem in song.stems
        if stem.key is not None
        and stem.key.others > 0
        and stem.name not in at_another_rate
        and tempo_of_its_own(stem) is None
    ]


def _are_two_alone(asked: Sequence[Fitted]) -> bool:
    return len(asked) == 2 and all(fit.others == 1 for _, fit in asked)


def _outnumbered(found: Sequence[Fitted], asked: Sequence[Fitted]) -> list[Fitted]:
    """Those that most of the song speaks against. One witness alone may be the one that is wrong, and so may
    half of the stems."""
    witnessed = [(stem, fit) for stem, fit in found if fit.others > 1]
    stems = max([len(asked), *(fit.others + 1 for _, fit in witnessed)])
    return witnessed if 2 * len(witnessed) < stems else []


def _may_be_left_by_a_bass(asked: Sequence[Fitted], fit: KeyFit) -> bool:
    """Whether a bass and one other stem differ by a whole tone: fifth, seventh and ninth of a chord, whose
    root is left to the bass, are the triad of another one."""
    return abs(fit.semitones) == 2 and any(stem.role is Role.BASS for stem, _ in asked)


def is_transposed(stem: StemEvidence, fit: KeyFit, limit: Limit) -> bool:
    """Whether a stem clearly stands in another key, in both halves of what it plays."""
    fifth = abs(fit.semitones) == 5
    if fit.semitones == 0 or fit.agree < 1 or fit.disagree + fifth > fit.agree:
        return False
    if fit.others > 1 and fit.lead < limit["lead"]:
        return False  # another one, transposed, would explain it as well
    if _nothing_is_written_so(stem, fit, limit):
        return _moves(fit, limit["moves"]) or not _says_little(stem, fit, limit)
    if _says_little(stem, fit, limit) or _is_doubled(stem, fit, limit):
        return False
    if _is_tune(stem, fit):
        return not fifth and _tune_is_off(fit, limit)
    if fit.voices < LINE:
        return _bass_a_fifth_off(fit, limit) if fifth else _bass_is_off(fit, limit)
    return _chords_a_fifth_off(fit, limit) if fifth else _chords_are_off(fit, limit)


def _is_doubled(stem: StemEvidence, fit: KeyFit, limit: Limit) -> bool:
    """Whether it is a line that another one doubles there, as lines are doubled."""
    doubled = BASS_DOUBLED if stem.role is Role.BASS else DOUBLED
    return fit.voices < LINE and fit.parallel >= limit["parallel"] and abs(fit.semitones) in doubled


def _is_tune(stem: StemEvidence, fit: KeyFit) -> bool:
    return fit.voices < LINE and stem.role is not Role.BASS


def _tune_is_off(fit: KeyFit, limit: Limit) -> bool:
    """A tune by its scale. One that takes no notice of the chords, as a hook of three notes that comes round
    over all of them, may lie anywhere in it: by more than a semitone it has to move with them, or fit the
    scale far better; not by a whole tone, where two scales share five notes."""
    if not _scale(fit, limit):
        return False
    sure = fit.gain + fit.long_gain >= limit["tune_surely"] and abs(fit.semitones) != 2
    return abs(fit.semitones) == 1 or sure or _moves(fit, limit["follows"])


def _moves(fit: KeyFit, least: float) -> bool:
    """Whether the transposed stem moves with the chords, and by so much better than as it is."""
    return fit.changes_turned >= max(0.0, fit.changes_as_is) + least


def _says_little(stem: StemEvidence, fit: KeyFit, limit: Limit) -> bool:
    """A few bars, of a tune some more, which may lie anywhere in a scale, and tuned drums, which are tuned to
    themselves: a turn counts that nothing is written by, and only where it moves with the chords."""
    short_s = limit["short_tune_s" if _is_tune(stem, fit) else "short_s"]
    return fit.seconds < short_s or stem.role is Role.PERCUSSION


def _nothing_is_written_so(stem: StemEvidence, fit: KeyFit, limit: Limit) -> bool:
    """A semitone off, or chords and basses a whole tone, where they fit badly as they are and move with the
    chords: no part is written so. A tune may be, and speech on one pitch lies a semitone beside a song as
    well, but does not move with its chords."""
    if min(fit.first_half_gain, fit.second_half_gain) < 0.1:
        return False
    faintly = _moves(fit, limit["moves"]) and stem.role is not Role.PERCUSSION
    if fit.fit_turned < limit["faint" if faintly else "as_is"]:
        return False
    if abs(fit.semitones) == 1:
        return fit.gain + fit.long_gain >= limit["semitone"]
    if abs(fit.semitones) != 2 or _is_tune(stem, fit):
        return False
    bad = fit.fit_as_is <= limit["tone_as_is"]
    return bad and fit.evidence >= limit["whole_tone"] and _moves(fit, limit["follows"])


def _clear(fit: KeyFit, limit: Limit) -> bool:
    halves = min(fit.first_half_gain, fit.second_half_gain)
    if fit.fit_turned < limit["turned"] or fit.fit_as_is > limit["as_is"]:
        return False
    if fit.gain >= limit.value and halves >= 0.6 * limit.value:
        return True
    together = limit["bass_evidence"] if fit.voices < LINE else limit["evidence"]
    follows = fit.voices < LINE or fit.thirds >= limit["thirds"]
    return follows and fit.evidence >= together and halves >= 0.1 and fit.gain >= limit["part"]


def _chords_are_off(fit: KeyFit, limit: Limit) -> bool:
    """Chords have to follow in their changes or their thirds: those of four notes hold each other's triads,
    and the scale alone says little of them. By a whole tone all has to tell."""
    if fit.changes_turned <= max(fit.changes_as_is, limit["follows"]) and fit.thirds < limit["thirds"]:
        return False
    if abs(fit.semitones) == 2:
        return fit.evidence >= limit["tone"] and _clear(fit, limit)
    return _scale(fit, limit) or _clear(fit, limit)


def _bass_is_off(fit: KeyFit, limit: Limit) -> bool:
    """A bass by its scale too, but not by a whole tone, where two scales share five notes."""
    return (abs(fit.semitones) != 2 and _scale(fit, limit)) or _clear(fit, limit)


def _chords_a_fifth_off(fit: KeyFit, limit: Limit) -> bool:
    """Two such keys share six tones of seven: the changes have to tell, and the thirds of the chords, which a
    part that plays one shape over every root does not follow. Roots with their fifths have no thirds, but
    would be heard on the ninths, or on fourths."""
    if min(fit.first_half_gain, fit.second_half_gain) <= 0.0 or fit.fit_turned < limit["turned"]:
        return False
    if fit.parallel >= limit["parallel"]:  # another stem is doubled a fourth or fifth apart
        return False
    if fit.evidence < limit["fifth"] or fit.changes_turned < limit["changes"]:
        return False
    bare = fit.voices < BARE and (fit.semitones > 0 or fit.on_ninth >= limit["bare_ninth"])
    if fit.thirds >= limit["thirds"]:
        return fit.voices >= TWO_PARTS
    return bare and fit.evidence >= limit["evidence"]


def _bass_a_fifth_off(fit: KeyFit, limit: Limit) -> bool:
    """A bass may play the fifths of the chords, seldom their ninths too, and never their fourths."""
    if min(fit.first_half_gain, fit.second_half_gain) <= 0.0 or fit.fit_turned < limit["turned"]:
        return False
    if fit.others < ENOUGH_CHORDS and fit.fit_as_is > limit["as_is"]:
        return False  # a few others that leave the roots to it
    ninths = fit.on_ninth >= limit["ninths"] and fit.on_fifth >= limit["fifths"]
    if fit.semitones < 0 and ninths:
        return fit.evidence >= limit["bass_fifth"]
    return fit.evidence >= limit["fifth"] and (fit.semitones > 0 or fit.on_ninth >= limit["ninth"])


def _scale(fit: KeyFit, limit: Limit) -> bool:
    """A tune says little of chords: its scale has to tell, and tells of the others too."""
    halves = min(fit.first_half_gain, fit.second_half_gain)
    return (
        fit.gain + fit.long_gain >= limit["scale"]
        and fit.fit_turned >= limit["scale_turned"]
        and halves >= 0.2 * limit["scale"]
    )


def _decided(stem: StemEvidence, fit: KeyFit, limit: Limit) -> tuple[float, float]:
    """What told that it `is_transposed`, and the bound that it passed."""
    if abs(fit.semitones) == 5:
        fifth = limit["fifth" if fit.evidence >= limit["fifth"] else "bass_fifth"]
        return fit.evidence, fifth
    if _nothing_is_written_so(stem, fit, limit):
        if abs(fit.semitones) == 1:
            return fit.gain + fit.long_gain, limit["semitone"]
        return fit.evidence, limit["whole_tone"]
    if fit.gain >= limit.value and not _is_tune(stem, fit):
        return fit.gain, limit.value
    if _scale(fit, limit):
        return fit.gain + fit.long_gain, limit["scale"]
    return fit.evidence, limit["bass_evidence" if fit.voices < LINE else "evidence"]


RULES = (key_mismatch,)
