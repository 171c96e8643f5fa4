"""What a file's samples carry: channels nobody expects, bits that hold nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.once import once_a_show
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.units import count

PADDED_BITS = 16
HALF_DB = 6.0206
MANY_VALUES = 1000
"""Distinct values from which on samples are a recording and no drawn waveform. Own judgement."""

ENOUGH_TO_NOTE = 3
"""Songs with a stem from which on one that differs from all others is worth a note."""


def channel_words(channels: int) -> str:
    return {1: "mono", 2: "stereo"}.get(channels, f"{channels} channels")


Alike = tuple[Role, str]
"""A role, and the name without track number, song name and version mark: "kick", "drums/snare"."""


def named_alike(song: SongEvidence) -> dict[Alike, StemEvidence]:
    """The song's stems by what their likes in other songs are known by; those that have only one role.

    A kick in mono is no fault beside drums in stereo, so only a kick is compared with it. "Guitar" beside
    "Guitar 2" may be one side of a pair, and a file with click left and timecode right is stereo for
    another reason: neither can be compared.
    """
    names = Counter((stem.role, stem.stem.version_key) for stem in song.stems)

    def has_a_partner(role: Role, name: str) -> bool:
        return any(other is role and key.startswith(f"{name} ") for other, key in names)

    return {
        (stem.role, stem.stem.version_key): stem
        for stem in song.stems
        if len(set(stem.roles)) == 1
        and stem.stem.version_key
        and names[stem.role, stem.stem.version_key] == 1
        and not has_a_partner(stem.role, stem.stem.version_key)
        and stem.role is not Role.OTHER
        and not stem.silent
        and stem.format is not None
        and stem.format.channels in (1, 2)
        and len(stem.stem.channel_roles) < 2
    }


@once_a_show
def named_alike_by_song(show: ShowEvidence) -> list[dict[Alike, StemEvidence]]:
    """The same of every song."""
    return [named_alike(song) for song in show.songs]


@rule(
    id="channel-count-mismatch",
    family="format",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    limit=Limit(value=80.0, unit="% of the songs", more={"other_songs": 5, "channels": 2}),
    message="{found}; stems of this name are {usual} in {value:.0f} % of {songs_with_it}, limit {limit:g} %",
    cure="Ask which is meant. Bounce this stem again as in the other songs, or check that its outputs fit.",
    again="{usual}, as in the other songs",
    means="Mono here, stereo for the same stem elsewhere (or the reverse), or more than two channels. A "
    "warning where at least {other_songs:.0f} other songs have it and at least {limit:g} % agree, itself "
    "counted; a note where fewer songs do, without exception.",
    on_stage="A mono file on a stereo track may play on the left only; a stereo file on a mono track loses "
    "a side or takes a neighbour's output.",
    measured="Channels by the header. Compared are stems of the same role and name (track number, song name "
    "and version mark do not count): a kick with a kick, never with the drums. Not where there is a second "
    "one (“Guitar 2”) or more roles in the file, nor where it varies from song to song. More than "
    "{channels:.0f} channels are no fault where the name gives each its role.",
    source="own judgement: what four of five songs do is the habit of the show",
)
def channel_count_mismatch(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    for stem in song.stems:
        if stem.format is not None and _are_too_many(stem, stem.format.channels, limit):
            yield _many_hit(stem, stem.format.channels)
    own = named_alike(song)
    compared = False
    for alike, stem in own.items():
        counts = _channels_over_show(alike, show)
        if counts.total() >= ENOUGH_TO_NOTE and stem.format is not None:
            compared = True
            if stem.format.channels != counts.most_common(1)[0][0]:
                yield from _odd_one(stem, stem.format.channels, alike[0], counts, limit)
    if own and not compared:
        yield NotApplicable(reason="too few songs with the same stems to compare with")


def _are_too_many(stem: StemEvidence, channels: int, limit: Limit) -> bool:
    """Unless the name says what each of them is."""
    declared = len(stem.stem.channel_roles) == channels or len(set(stem.roles)) > 1
    return channels > limit["channels"] and not declared


def _many_hit(stem: StemEvidence, channels: int) -> Hit:
    return Hit(
        stem=stem.name,
        message="{is} channels in one file, more than {channels:.0f}",
        cure="Split the file into mono or stereo stems, or name what each channel is.",
        again="as mono or stereo stems, one part each",
        facts={"is": channels},
    )


def _channels_over_show(alike: Alike, show: ShowEvidence) -> Counter[int]:
    """How many songs have such a stem with how many channels."""
    return Counter(
        stem.format.channels
        for stems in named_alike_by_song(show)
        if (stem := stems.get(alike)) and stem.format
    )


def _odd_one(
    stem: StemEvidence, channels: int, role: Role, counts: Counter[int], limit: Limit
) -> Iterator[Hit]:
    """A stem that is not as most of its like: a warning where enough songs agree; where few songs have one, a
    note if all others agree."""
    usual, agreeing = counts.most_common(1)[0]
    total = counts.total()
    share = 100.0 * agreeing / total
    many = total - 1 >= limit["other_songs"]
    if not (share >= limit.value if many else agreeing == total - 1):
        return
    yield Hit(
        stem=stem.name,
        severity=Severity.WARNING if many else Severity.NOTE,
        value=share if many else None,
        message=None if many else _FEW_SONGS,
        facts={
            "found": channel_words(channels),
            "usual": channel_words(usual),
            "role": role.value,
            "songs_with_it": count(total, "song"),
            "agreeing": count(agreeing, "other song"),
        },
    )


_FEW_SONGS = "{found}; stems of this name are {usual} in all {agreeing}"


def _may_be_padded(stem: StemEvidence) -> bool:
    """Whether a stem can be 16-bit audio in a larger file: whole numbers, heard by the audience, not
    silent."""
    form = stem.format
    if form is None or stem.audio is None or form.is_float or form.lossy or form.bits is None:
        return False
    return form.bits > PADDED_BITS and stem.audience and not stem.silent and bool(stem.audio.bits_in_use)


def _is_padded(stem: StemEvidence, limit: Limit) -> bool:
    """Exactly 16 bits; or as many more as the peak leaves room for, or a few fewer: turned down or up by 6 dB
    and its multiples. Those only with many values: a synthetic waveform may need any number of bits, and says
    nothing of where it came from."""
    if stem.audio is None or stem.audio.bits_in_use is None:
        return False
    lower = stem.audio.bits_in_use - PADDED_BITS
    if lower == 0:
        return True
    if abs(lower) > limit.value or stem.audio.distinct_values < MANY_VALUES:
        return False
    peak_dbfs = max(part.measures.peaks.sample_dbfs for part in stem.parts)
    return lower < 0 or peak_dbfs <= -HALF_DB * lower + 0.001


def _all_padded(show: ShowEvidence, limit: Limit) -> bool:
    """Whether every song that could have padded files has nothing else."""
    able = [[stem for stem in song.stems if _may_be_padded(stem)] for song in show.songs]
    asked = [stems for stems in able if stems]
    return len(asked) >= 2 and all(_is_padded(stem, limit) for stems in asked for stem in stems)


def _severity(show: ShowEvidence) -> Severity | None:
    """A warning where the settings ask for true bits."""
    return Severity.WARNING if show.settings.true_bits else None


def _padded_over_show(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not _all_padded(show, limit):
        return
    stems = [(song.name, s) for song in show.songs for s in song.stems if _may_be_padded(s)]
    yield Hit(
        songs=tuple(dict.fromkeys(name for name, _ in stems)),
        severity=_severity(show),
        message="all {stems} of the show's music hold 16-bit audio in files of more bits",
        facts={"stems": count(len(stems), "stem"), "count": len(stems)},
    )


@rule(
    id="padded-bit-depth",
    family="format",
    severity=Severity.NOTE,
    scope="song",
    needs=("format", "audio"),
    limit=Limit(value=3.0, unit="bits"),
    message="16-bit audio in files of more bits, {number} of {able}: {listed}",
    cure="Nothing to do for tonight. If 24 bit was asked for, ask for a bounce from the session, not a "
    "conversion.",
    again="from a session in the show's true bit depth",
    means="16-bit audio in a 24-bit file: the lowest bits of every sample are zero. A warning where the "
    "settings "
    "ask for true bits.",
    on_stage="Half as much disk and memory again for nothing; the noise floor is that of 16 bit.",
    measured="Bits in use over all samples: exactly 16 in a file of more; or up to {limit:g} more, where the "
    "peak leaves that many at the top unused (turned down by 6 dB or a multiple), or up to {limit:g} fewer "
    "(turned up), if there are many different values: a plain synthetic waveform may need any number. Never "
    "click, guide, timecode or silence.",
    source="own judgement; sample layout: Microsoft WAVE_FORMAT_EXTENSIBLE, valid bits are left-justified",
    over_show=_padded_over_show,
)
def padded_bit_depth(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    able = [stem for stem in song.stems if _may_be_padded(stem)]
    if not able:
        yield NotApplicable(reason="no music stored in more than 16 bits")
        return
    names = tuple(stem.name for stem in able if _is_padded(stem, limit))
    if names and not _all_padded(show, limit):
        yield Hit(
            stem=names[0] if len(names) == 1 else None,
            severity=_severity(show),
            facts={
                "number": len(names),
                "able": count(len(able), "stem"),
                "listed": listed(names),
                "files": names,
            },
        )


RULES = (channel_count_mismatch, padded_bit_depth)
