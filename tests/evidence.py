"""Evidence built by hand: stems, songs and shows that no file stands behind, for the tests of the rules.

Every builder makes an inconspicuous thing: `stem("Bass.wav")` is a healthy minute of 48 kHz/24-bit stereo
bass that no rule should speak of. A test names what is odd about it, one dataclass at a time:

    stem("Bass.wav", peaks={"true_dbtp": 0.4}, clipping={"runs": 3, "longest_frames": 12})
    stem("LTC+Click.wav", parts=[part(Role.CLICK, channels=(0,)), part(Role.TIMECODE, channels=(1,))])
    show(song("Night Ferry", stem("Click.wav"), stem("Bass.wav", bits=16)))
    findings("bit-depth-mismatch", show(...))
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import PassedOver, Role, Show, Song, Stem, StemFormat
from audit.findings import Finding, ShowAudit
from audit.folder.versions import read_mark
from audit.results import (
    Activity,
    Cause,
    Ceiling,
    ClickTrack,
    Clipping,
    ContainerFault,
    Damage,
    FaultKind,
    FlatTops,
    Head,
    Levels,
    Loudness,
    MixMeasures,
    Nature,
    PartMeasures,
    PartsFit,
    Peaks,
    SideDelay,
    StemMeasures,
    Stereo,
    TimecodeTrack,
)
from audit.rules.engine import judge
from audit.rules.rule import Limit, Rule

Overrides = Mapping[str, Any]
ROOT = Path("Harbour Lights Tour")
SECONDS = 60.0
_serial = itertools.count(1)

WORDS = {
    "click": Role.CLICK, "guide": Role.GUIDE, "timecode": Role.TIMECODE, "ltc": Role.TIMECODE,
    "drums": Role.DRUMS, "perc": Role.PERCUSSION, "loop": Role.LOOP, "bass": Role.BASS,
    "guitar": Role.GUITAR, "keys": Role.KEYS, "piano": Role.PIANO, "organ": Role.ORGAN, "synth": Role.SYNTH,
    "pad": Role.PAD, "strings": Role.STRINGS, "brass": Role.BRASS, "lead vocal": Role.LEAD_VOCAL,
    "backing vocals": Role.BACKING_VOCALS, "choir": Role.CHOIR, "fx": Role.EFFECTS, "mix": Role.FULL_MIX,
}  # fmt: skip
"""How a test's file names become roles: the first word found. audit.folder has the real table."""


def role_of(file: str) -> Role:
    name = file.casefold()
    return next((role for word, role in WORDS.items() if word in name), Role.OTHER)


def part(
    role: Role,
    *,
    channels: tuple[int, ...] = (0, 1),
    frames: int = round(SECONDS * 48000),
    rate_hz: int = 48000,
    silent: bool = False,
    role_is_guess: bool = False,
    audience: bool | None = None,
    peaks: Overrides | None = None,
    clipping: Overrides | None = None,
    flat_tops: Overrides | None = None,
    loudness: Overrides | None = None,
    levels: Overrides | None = None,
    activity: Overrides | None = None,
    stereo: Overrides | None = None,
    nature: Overrides | None = None,
    timecode: TimecodeTrack | None = None,
    ceiling: Overrides | None = None,
    side_delay: Overrides | None = None,
    damage: Damage | None = None,
    head: Head | None = None,
) -> PartEvidence:
    """One part: healthy by default, nothing in it where `silent`. `stereo` is for pairs only."""
    nothing = -math.inf
    measures = PartMeasures(
        channels=channels,
        peaks=_with(
            Peaks(
                sample_dbfs=nothing if silent else -6.0,
                sample_at_frame=0 if silent else frames // 2,
                true_dbtp=nothing if silent else -5.8,
                true_at_s=0.0 if silent else frames / 2 / rate_hz,
                channel_dbfs=tuple(nothing if silent else -6.0 for _ in channels),
            ),
            peaks,
        ),
        clipping=_with(
            Clipping(
                runs=0, long_runs=0, longest_frames=0, longest_at_frame=None, first_at_frame=None,
                over_full_scale=0,
            ),
            clipping,
        ),
        flat_tops=_with(
            FlatTops(level_dbfs=nothing, plateaus=0, longest_frames=0, first_at_frame=None, share=0.0),
            flat_tops,
        ),
        loudness=_with(
            Loudness(
                integrated_lufs=None if silent else -18.0,
                max_momentary_lufs=None if silent else -12.0,
                max_momentary_at_s=None if silent else frames / 2 / rate_hz,
                max_short_term_lufs=None if silent else -14.0,
                range_lu=None if silent else 6.0,
            ),
            loudness,
        ),
        levels=_with(
            Levels(
                rms_dbfs=nothing if silent else -20.0,
                active_rms_dbfs=nothing if silent else -19.0,
                crest_db=None if silent else 14.0,
                dc_offset=0.0,
                dc_worst_window=0.0,
                dc_worst_at_s=0.0,
            ),
            levels,
        ),
        activity=_with(
            Activity(
                first_sound_frame=None if silent else 0,
                last_sound_frame=None if silent else max(0, frames - rate_hz),
                active_s=0.0 if silent else max(0.0, frames / rate_hz - 1.0),
                end_rms_dbfs=nothing if silent else -90.0,
                zero_tail_frames=frames if silent else 0,
                before_tail_rms_dbfs=nothing if silent else -90.0,
            ),
            activity,
        ),
        stereo=_with(
            Stereo(correlation=0.0, difference_db=nothing, mid_side_db=math.inf, imbalance_db=0.0)
            if silent
            else Stereo(correlation=0.6, difference_db=-7.0, mid_side_db=6.0, imbalance_db=0.2),
            stereo,
        )
        if len(channels) == 2
        else None,
        nature=_with(
            Nature(
                timecode_share=1.0 if role is Role.TIMECODE and not silent else 0.0,
                tick_share=1.0 if role is Role.CLICK and not silent else 0.0,
            ),
            nature,
        ),
        timecode=timecode,
        ceiling=_with(
            Ceiling(
                edge_hz=None, drop_db=0.0, held_drop_db=0.0, breaks=0, steady=0.0, lines_db=0.0,
                windows=0 if silent else 500, mirror_hz=None, mirror=0.0, mirror_beside=0.0,
            ),
            ceiling,
        ),
        side_delay=_with(SideDelay(lowest=-0.2, lowest_at_ms=0.6, highest=0.6), side_delay)
        if len(channels) == 2 and not silent
        else None,
        damage=damage,
        head=head,
    )  # fmt: skip
    return PartEvidence(
        role=role,
        role_is_guess=role_is_guess,
        audience=role.audience if audience is None else audience,
        measures=measures,
    )


def stem(
    file: str,
    *,
    role: Role | str | None = None,
    rate_hz: int = 48000,
    bits: int | None = 24,
    channels: int = 2,
    seconds: float = SECONDS,
    frames: int | None = None,
    silent: bool = False,
    lossy: bool = False,
    faults: Sequence[ContainerFault] = (),
    failure: str | None = None,
    failure_cause: Cause = Cause.FILE,
    unreadable: bool = False,
    parts: Sequence[PartEvidence] | None = None,
    facts: Overrides | None = None,
    format: Overrides | None = None,
    audio: Overrides | None = None,
    **part_overrides: Any,
) -> StemEvidence:
    """One stem with a single part over all channels, or with the `parts` given.

    facts, format, audio: fields of Stem, StemFormat and StemMeasures to replace. The rest
    (`peaks={...}`, `activity={...}` …, `audience=`) goes to the part. With `unreadable` there is neither
    format nor audio; with `failure` alone there is a format and no audio.
    """
    the_role = Role(role) if role else role_of(file)
    length = round(seconds * rate_hz) if frames is None else frames
    guessed = role is None and the_role is Role.OTHER
    stem_facts = Stem(
        file=file,
        path=ROOT / file,
        role=the_role,
        role_is_guess=guessed,
        size_bytes=44 + length * channels * (bits or 8) // 8,
        version_key=file.rpartition("/")[2].rpartition(".")[0].casefold(),
    )
    if facts and "version" in facts:
        facts = {"mark": read_mark(facts["version"]), **facts}
    if unreadable:
        failure = failure or "no audio format was recognised"
    decoded = failure is None
    container = file.rpartition(".")[2].upper() or "WAV"
    coded = lossy or bits is None or container == "FLAC"
    stem_format = StemFormat(
        container=container,
        encoding="VORBIS" if lossy else {32: "FLOAT"}.get(bits or 0, f"PCM_{bits}"),
        sample_rate_hz=rate_hz,
        channels=channels,
        frames=length,
        bits=None if lossy else bits,
        is_float=bits == 32 and not lossy,
        lossy=lossy,
        data_offset_bytes=None if coded else 44,
        frame_bytes=None if coded or bits is None else channels * bits // 8,
    )
    if parts is None:
        parts = (
            part(
                the_role, channels=tuple(range(channels)), frames=length, rate_hz=rate_hz, silent=silent,
                role_is_guess=guessed, **part_overrides,
            ),
        )  # fmt: skip
    elif part_overrides:
        raise TypeError(f"give these to the parts instead: {sorted(part_overrides)}")
    measures = StemMeasures(
        frames=length,
        parts=tuple(p.measures for p in parts),
        bits_in_use=None if silent or lossy or bits == 32 else bits,
        content_hash=None if silent else f"audio {next(_serial)}",
        not_finite=0,
        not_finite_at_frame=None,
        md5_checked=True if file.endswith(".flac") else None,
    )
    return StemEvidence(
        stem=_with(stem_facts, facts),
        format=None if unreadable else _with(stem_format, format),
        faults=tuple(faults),
        audio=_with(measures, audio) if decoded else None,
        parts=tuple(parts) if decoded else (),
        failure=failure,
        failure_cause=failure_cause,
    )


def fault(kind: FaultKind, detail: str = "as the test says", **fields: Any) -> ContainerFault:
    return ContainerFault(kind=kind, detail=detail, **fields)


def passed_over(path: str, reason: str = "not audio", *, stray: bool = True) -> PassedOver:
    """A file in a song's folder that was not audited; `path` is relative to the show: "Song/notes.txt"."""
    return PassedOver(path=path, reason=reason, song=path.partition("/")[0], stray=stray)


def mix(*, loudness: Overrides | None = None, peaks: Overrides | None = None, **fields: Any) -> MixMeasures:
    """The audience's sum of a song: healthy by default."""
    bed = part(Role.OTHER).measures
    made = MixMeasures(
        loudness=_with(replace(bed.loudness, integrated_lufs=-14.0), loudness),
        peaks=_with(bed.peaks, peaks),
        sample_rate_hz=48000,
        from_stems=(),
        left_out=(),
    )
    return _with(made, fields)


def song(
    name: str,
    *stems: StemEvidence,
    folder: str | None = None,
    mix: MixMeasures | None = None,
    mix_failure: str | None = None,
    parts_fits: Sequence[PartsFit] = (),
    passed_over: Sequence[PassedOver] = (),
    click: ClickTrack | None = None,
    click_stem: str | None = None,
    facts: Overrides | None = None,
) -> SongEvidence:
    """One song; its folder bears its name unless told otherwise."""
    where = name if folder is None else folder
    placed = tuple(replace(s, stem=replace(s.stem, path=ROOT / where / s.stem.file)) for s in stems)
    song_facts = Song(name=name, folder=where, path=ROOT / where, stems=tuple(s.stem for s in placed))
    return SongEvidence(
        song=_with(song_facts, facts),
        stems=placed,
        mix=mix,
        mix_failure=mix_failure,
        parts_fits=tuple(parts_fits),
        passed_over=tuple(passed_over),
        click=click,
        click_stem=click_stem,
    )


def show(*songs: SongEvidence, name: str = "Harbour Lights Tour", path: Path = ROOT) -> ShowEvidence:
    """The whole show; what the songs passed over is the show's as well."""
    litter = tuple(item for s in songs for item in s.passed_over)
    return ShowEvidence(
        show=Show(name=name, path=path, songs=tuple(s.song for s in songs), passed_over=litter),
        songs=tuple(songs),
    )


def audit_with(
    rule: str | Rule, evidence: ShowEvidence, *, limits: Mapping[str, Limit] | None = None
) -> ShowAudit:
    """The engine's whole answer with one rule only: findings, unmeasured, not applicable."""
    return judge(evidence, (find_rule(rule),), version="test", limits=limits)


def findings(
    rule: str | Rule, evidence: ShowEvidence, *, limits: Mapping[str, Limit] | None = None
) -> list[Finding]:
    """What one rule (its id, or the rule itself) says of the show: the songs' findings, then the show's."""
    return list(audit_with(rule, evidence, limits=limits).all_findings())


def find_rule(rule: str | Rule) -> Rule:
    if isinstance(rule, Rule):
        return rule
    from audit.rules.catalogue import RULES

    found = [candidate for candidate in RULES if candidate.id == rule]
    assert len(found) == 1, f"{len(found)} rules are called {rule}"
    return found[0]


def _with(made: Any, overrides: Overrides | None) -> Any:
    return replace(made, **overrides) if overrides else made
