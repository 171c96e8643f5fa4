"""The rule on stems whose header claims another sample rate than their audio was made at.

at_wrong_rate(song, limit) -> the names of the stems that are told so
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import StemFormat
from audit.findings import Severity
from audit.results import WrongRate
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule

RATIOS = {
    160 / 147: "44.1 kHz audio under a 48 kHz header (or 88.2 under 96)",
    147 / 160: "48 kHz audio under a 44.1 kHz header (or 96 under 88.2)",
    2.0: "audio of half the rate that the header claims",
    0.5: "audio of twice the rate that the header claims",
    320 / 147: "44.1 kHz audio under a 96 kHz header",
    147 / 320: "96 kHz audio under a 44.1 kHz header",
}

AS_LONG_S = 0.1
"""Files that last as long as one another."""

SIMPLE, FRAMES_OFF = (0.5, 2.0), 2
"""Ratios that music has among its own lengths; and what conversions round a length by."""


@rule(
    id="wrong-rate-header",
    family="format",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    limit=Limit(value=30, unit="onsets"),
    message="its hits meet the other stems' only if it runs at another rate, {ratio:.4f} times as long "
    "({fit:.0f} % then, {as_is:.0f} % as it is): {kind}",
    cure="Put the right rate into the header (no conversion), then convert it properly to the show's rate; "
    "or bounce it again.",
    again="with the sample rate in its header that its audio has",
    means="The file's header claims another sample rate than its audio was made at: it plays at the wrong "
    "speed and pitch. Judged from {limit:g} onsets on, or by the number of its frames.",
    on_stage="The stem runs away from the click from the first bar, a semitone and more out of tune.",
    measured="Onsets laid against the click and the other stems at 160/147, 2, 320/147 and their inverses; "
    "at 2 and 1/2 not of a file that lasts as long as most of the song's (a fast figure that rests). "
    "Or it holds, to the frame, as many as at least half of the song's others, "
    "two and more, whose headers name another rate, by one of these ratios: converted, it would hold more "
    "or fewer. Or it is by 160/147 or 320/147 longer or shorter than at least half of them, two and more, to "
    "two frames.",
    source="The ratios of 44.1, 48, 88.2 and 96 kHz; how sure it has to be: own measurement.",
)
def wrong_rate_header(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    by_frames, by_length = _of_the_others_frames(song), _of_the_others_length(song)
    if all(stem.alignment is None for stem in song.stems) and not by_frames | by_length:
        yield NotApplicable(reason="no click to tell by")
        return
    for stem in song.stems:
        heard = _heard(stem, song, limit)
        if heard is not None:
            yield _heard_hit(stem, heard)
        elif stem.name in by_frames and stem.format is not None:
            yield _counted_hit(stem, stem.format, by_frames[stem.name], _AS_MANY)
        elif stem.name in by_length and stem.format is not None:
            yield _counted_hit(stem, stem.format, by_length[stem.name], _AS_LONG)


def at_wrong_rate(song: SongEvidence, limit: Limit) -> frozenset[str]:
    """The stems that are told so: limit is that of `wrong_rate_header`. They say nothing of the song's
    length, and are not to be converted."""
    heard = {stem.name for stem in song.stems if _heard(stem, song, limit) is not None}
    return frozenset(heard | _of_the_others_frames(song).keys() | _of_the_others_length(song).keys())


def _heard(stem: StemEvidence, song: SongEvidence, limit: Limit) -> WrongRate | None:
    """The rate at which its hits meet the other stems', where there are enough of them. At half and twice a
    rate a file lasts twice or half as long; one that lasts as long as the others plays a figure so fast, or
    so slow, and rests."""
    wrong = stem.alignment.wrong_rate if stem.alignment is not None else None
    if wrong is None or wrong.onsets < limit.value:
        return None
    return None if wrong.ratio in SIMPLE and _lasts_as_long_as_most(stem, song) else wrong


def _lasts_as_long_as_most(stem: StemEvidence, song: SongEvidence) -> bool:
    lengths_s = [one.format.duration_s for one in song.stems if one.format is not None and one.format.frames]
    if stem.format is None:
        return False
    most = sum(abs(one - stem.format.duration_s) <= AS_LONG_S for one in lengths_s)
    return most > 1 and 2 * most >= len(lengths_s)


def _heard_hit(stem: StemEvidence, wrong: WrongRate) -> Hit:
    return Hit(
        stem=stem.name,
        value=float(wrong.onsets),
        facts={
            "ratio": wrong.ratio,
            "fit": 100.0 * wrong.fit,
            "as_is": 100.0 * wrong.fit_as_is,
            "kind": RATIOS.get(wrong.ratio, "another sample rate"),
        },
    )


_AS_MANY = (
    "holds {frames} frames as the song's other stems do, under another rate in its header, and so lasts "
    "{longer:.4f} times as long as they: {kind}"
)
_AS_LONG = (
    "holds {frames} frames, {longer:.4f} times as many as the song's other stems at that rate, to the frame "
    "or two: {kind}"
)


def _counted_hit(stem: StemEvidence, form: StemFormat, ratio: float, message: str) -> Hit:
    return Hit(
        stem=stem.name,
        value=float(form.frames),
        unit="frames",
        message=message,
        facts={"ratio": ratio, "frames": form.frames, "longer": 1.0 / ratio, "kind": RATIOS[ratio]},
    )


def _of_the_others_frames(song: SongEvidence) -> dict[str, float]:
    """Stems that hold, to the frame, as many as at least half of the song's others, two and more, that have
    another rate: by name, how many times as long they would last at that. A converted one holds more or
    fewer."""
    found = {}
    for name, form, others in _each_beside_others(song):
        rates = [other.sample_rate_hz for other in others if other.frames == form.frames]
        elsewhere = [rate_hz for rate_hz in rates if rate_hz != form.sample_rate_hz]
        if _are_the_camp(len(elsewhere), len(rates) - len(elsewhere), len(others)):
            ratio = form.sample_rate_hz / elsewhere[0]
            near = next((one for one in RATIOS if abs(one / ratio - 1.0) < 1e-6), None)
            if near is not None:
                found[name] = near
    return found


def _of_the_others_length(song: SongEvidence) -> dict[str, float]:
    """Stems as long as the others would be at another rate: by name, how many times as long they would last
    at that. The rates' ratios alone that no cut of the music makes: half as long may be half the song."""
    found = {}
    for name, form, others in _each_beside_others(song):
        lengths = Counter(one.frames for one in others if one.sample_rate_hz == form.sample_rate_hz)
        frames, alike = lengths.most_common(1)[0] if lengths else (0, 0)
        if _are_the_camp(alike, lengths[form.frames], len(others)):
            for ratio in RATIOS:
                if ratio not in SIMPLE and abs(form.frames * ratio - frames) <= FRAMES_OFF:
                    found[name] = ratio
    return found


def _each_beside_others(song: SongEvidence) -> Iterator[tuple[str, StemFormat, list[StemFormat]]]:
    """Each stem that holds something, with the formats of the others that do."""
    forms = [
        (stem.name, stem.format) for stem in song.stems if stem.format is not None and stem.format.frames
    ]
    for name, form in forms:
        yield name, form, [other for other_name, other in forms if other_name != name]


def _are_the_camp(alike: int, with_it: int, others: int) -> bool:
    """Whether so many of a stem's others, which are alike, say that it is the odd one: two and more, at least
    half of them. Of two camps the smaller one is wrong, and of two alike nobody knows which."""
    return alike >= 2 and 2 * alike >= others and alike > with_it + 1


RULES = (wrong_rate_header,)
