"""Rule on files whose samples are bytes in the wrong places.

noise_in(song, limit) -> the names of the stems that are told so
noise_by_song(show, limit) -> the same of all songs
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.findings import Severity
from audit.results import Reading, Scrambled
from audit.rules.once import once_a_show
from audit.rules.parts import seconds_at
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule


@rule(
    id="full-scale-noise",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    needs=("audio",),
    limit=Limit(value=5.0, unit="%", more={"windows": 3, "even_percent": 50.0}),
    message="noise in place of sound in {value:.0f} % of it (limit {limit:g} %): the samples make sense only "
    "as {reading}",
    cure="Do not play it; if it must be heard, turn everything down first: it is as loud as a file can be. "
    "Ask for the file again from where it was made; it was damaged on its way or saved under a wrong header.",
    again="as sound: this file is noise",
    means="Loud noise that no instrument makes: the samples' bytes are swapped, shifted, of another width, "
    "or no audio at all.",
    on_stage="A burst of noise at full scale, in the PA or in somebody's ears. It can hurt people and break "
    "loudspeakers.",
    measured="Every half second that sounds, 1024 frames are looked at. Where their samples jump, their "
    "bytes are read again: in reverse order, shifted by one byte and more, unsigned, as 16, 24 and 32 bits "
    "and as float. A reading that is four times smoother is the proof; cymbals, risers and distortion have "
    "none. It is told from {windows:g} such windows on, past {limit:g} % of those that sound. Where no "
    "reading helps: samples that have every value equally often, up to full scale and without any relation, "
    "in {even_percent:g} % of the windows or more, as coded or random bytes have.",
    source="Own measurement: on 18 musical stems, each damaged in 14 ways.",
)
def full_scale_noise(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    found = stem.audio.scrambled if stem.audio else None
    if found is None or found.windows == 0:
        yield NotApplicable(reason="no sound in it")
        return
    at_s = seconds_at(stem, found.first_at_frame)
    share = 100.0 * found.readable / found.windows
    if found.reading is not None and found.readable >= limit["windows"] and share > limit.value:
        yield Hit(
            value=share,
            at_s=at_s,
            sample=found.first_at_frame,
            facts={
                "reading": found.reading.value,
                "roughness": found.roughness,
                "roughness_read": found.roughness_read,
                "windows": found.windows,
            },
        )
    elif _is_no_audio(found, limit):
        share = 100.0 * found.even / found.windows
        yield Hit(
            value=share,
            at_s=at_s,
            sample=found.first_at_frame,
            limit=limit["even_percent"],
            message="noise at full scale in {value:.0f} % of it (limit {limit:g} %): every value from full "
            "scale to full scale is equally frequent and no sample has to do with the next. Read in {tried} "
            "other ways it makes no more sense: it is no audio",
            facts={"tried": len(Reading), "windows": found.windows},
        )


def is_noise(stem: StemEvidence, limit: Limit) -> bool:
    return any(isinstance(said, Hit) for said in full_scale_noise.check(stem, limit))


def noise_in(song: SongEvidence, limit: Limit) -> frozenset[str]:
    """The stems of which `full_scale_noise` says that they are noise; limit: its own, in force. How loud that
    is, and what it makes of the song's level, is no fault beside it."""
    return frozenset(stem.name for stem in song.stems if is_noise(stem, limit))


@once_a_show
def noise_by_song(show: ShowEvidence, limit: Limit) -> dict[str, frozenset[str]]:
    return {song.name: noise_in(song, limit) for song in show.songs}


def _is_no_audio(found: Scrambled, limit: Limit) -> bool:
    return found.even >= limit["windows"] and 100.0 * found.even / found.windows >= limit["even_percent"]


RULES = (full_scale_noise,)
