"""Whether what is patched to one output fits into it."""

from __future__ import annotations

from collections.abc import Iterator

from audit.evidence import ShowEvidence, SongEvidence
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.patch import NO_PATCH
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, Unanswered, rule
from audit.rules.scrambled import full_scale_noise, noise_in
from audit.units import clock, count


@rule(
    id="output-overload",
    family="level",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    heeds=(full_scale_noise,),
    limit=Limit(value=0.0, unit="dBTP"),
    message="the {stems} on output {output} add up to {value:+.1f} dBTP at the set gains (at {place}), limit "
    "{limit:+.1f} dBTP",
    cure="Turn that output, or its loudest stems, down by {down:.1f} dB in the player, and put the new "
    "gain into the "
    "settings; turning PA and in-ears down does not mend it.",
    cure_in_general="Turn that output, or its loudest stems, down in the player by what it is over, and "
    "put the new gain into the settings; turning PA and in-ears down does not mend it.",
    again=None,
    means="The stems that are patched to one output add up past {limit:+.1f} dBTP.",
    on_stage="The converter clips, though no single stem does: distortion where the song is loudest.",
    measured="All stems of an output are added up sample by sample at the gains of the settings, and the "
    "true peak "
    "of the sum is measured. A mono stem sounds on both outputs of a pair at full level; a stereo stem on "
    "a single "
    "output as the mean of its sides. Left out: what the song's sum leaves out, and stems at another "
    "sample rate; nor are outputs judged on which full-scale-noise plays.",
    source="ITU-R BS.1770-5 Annex 2 (the measure); limit: own judgement, the converter's full scale",
)
def output_overload(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.outputs:
        yield NO_PATCH
        return
    if song.outputs is None:
        if song.mix_failure is not None:
            yield Unanswered(reason=f"the outputs were not added up: {song.mix_failure}")
        else:
            yield NotApplicable(reason="no line of the patch is for this song")
        return
    noise = noise_in(song, limit.of(full_scale_noise))
    over = sorted(
        (
            out
            for out in song.outputs
            if out.peaks.true_dbtp > limit.value and noise.isdisjoint(out.from_stems)
        ),
        key=lambda out: (-out.peaks.true_dbtp, out.output),
    )
    if not over:
        return
    worst = over[0]
    several = len(over) > 1
    yield Hit(
        value=worst.peaks.true_dbtp,
        message=_SEVERAL if several else None,
        facts={
            "place": clock(worst.peaks.true_at_s),
            "at_s": worst.peaks.true_at_s,
            "output": worst.output,
            "stems": count(len(worst.from_stems), "stem"),
            "from_stems": worst.from_stems,
            "down": worst.peaks.true_dbtp - limit.value,
            "outputs": listed([str(out.output) for out in sorted(over, key=lambda out: out.output)], most=32),
            "others": tuple(out.output for out in over[1:]),
        },
    )


_SEVERAL = (
    "outputs {outputs} add up past full scale at the set gains; most output {output}, whose {stems} reach "
    "{value:+.1f} dBTP (at {place}), limit {limit:+.1f} dBTP"
)

RULES = (output_overload,)
