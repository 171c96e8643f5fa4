"""How the stems of a song end: where their files do, where their sound does, and how loud."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from audit.evidence import SongEvidence, StemEvidence
from audit.facts import Role
from audit.results import FaultKind
from audit.rules.rule import Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Ending:
    """How one stem ends. Times in seconds from its start."""

    stem: StemEvidence
    end_s: float
    last_sound_s: float
    end_dbfs: float  # RMS of the last 50 ms
    usual_dbfs: float  # RMS of what sounds

    def sounds_at_end(self, limit: Limit) -> bool:
        """Cut while playing: louder than a tail, by itself and by the stem's own measure."""
        return (
            self.end_dbfs > limit["sounding_dbfs"] and self.end_dbfs > self.usual_dbfs - limit["under_own_db"]
        )


def endings(song: SongEvidence) -> list[Ending]:
    """Of all stems that can be compared: those with sound in them that no container fault has shortened."""
    found = []
    for stem in song.stems:
        form = stem.format
        short = any(fault.kind in (FaultKind.TRUNCATED, FaultKind.EMPTY) for fault in stem.faults)
        sounding = [part.measures for part in stem.parts if not part.silent]
        if form is None or short or not sounding or not form.sample_rate_hz:
            continue
        last = max(measures.activity.last_sound_frame or 0 for measures in sounding)
        found.append(
            Ending(
                stem=stem,
                end_s=form.duration_s,
                last_sound_s=(last + 1) / form.sample_rate_hz,
                end_dbfs=max(measures.activity.end_rms_dbfs for measures in sounding),
                usual_dbfs=max(measures.levels.active_rms_dbfs for measures in sounding),
            )
        )
    return found


def codes_cut_short(
    song: SongEvidence, limit: Limit, blamed: Collection[str | None] = ()
) -> list[tuple[Ending, float]]:
    """Timecode that ends sounding before the music does, each with the time of the music's last sound, the
    blamed stems apart."""
    everyone = endings(song)
    music = (each for each in everyone if each.stem.audience and each.stem.name not in blamed)
    last_s = max((ending.last_sound_s for ending in music), default=0.0)
    return [
        (ending, last_s)
        for ending in everyone
        if set(ending.stem.roles) == {Role.TIMECODE}
        and ending.sounds_at_end(limit)
        and last_s > ending.end_s + limit.value / 1000.0
    ]
