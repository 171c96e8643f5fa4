"""The file as a file: can it be read, is all of it there, is it what its name says."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.evidence import ShowEvidence, SongEvidence, StemEvidence
from audit.facts import StemFormat
from audit.findings import Severity
from audit.results import Cause, FaultKind
from audit.rules.parts import listed, seconds_at
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, Unanswered, rule
from audit.units import count

EXPLAINS_SILENCE = frozenset(
    {
        FaultKind.UNREADABLE,
        FaultKind.EMPTY,
        FaultKind.TRUNCATED,
        FaultKind.UNFINISHED,
        FaultKind.DAMAGED,
        FaultKind.NOT_ON_DISK,
    }
)
"""Faults that say by themselves why a file gave no audio."""

CARRIES_CHECKSUMS = frozenset({"FLAC", "OGG"})
"""Containers whose frames or pages carry a CRC, so that damage inside them can be told from sound."""


def fault_hits(stem: StemEvidence, kind: FaultKind) -> Iterator[Hit]:
    """One hit for all faults of a kind. A file that is not on disk has no other fault worth naming."""
    kinds = {fault.kind for fault in stem.faults}
    if FaultKind.NOT_ON_DISK in kinds and kind is not FaultKind.NOT_ON_DISK:
        return
    faults = [fault for fault in stem.faults if fault.kind is kind]
    if not faults:
        return
    frame = next((fault.at_frame for fault in faults if fault.at_frame is not None), None)
    numbers = [fault for fault in faults if fault.value is not None]
    yield Hit(
        at_s=seconds_at(stem, frame),
        sample=frame,
        facts={
            "detail": "; ".join(fault.detail for fault in faults),
            **({"amount": numbers[0].value, "amount_unit": numbers[0].unit} if numbers else {}),
        },
    )


_BOUNCE_AS_WAV = (
    "Bounce this stem as WAV or FLAC with 16 or 24 bits at the show's sample rate: the file may be "
    "whole, but neither this audit nor every player can read it."
)
_ALLOW_READING = (
    "Give yourself permission to read it (on macOS: Get Info, Sharing & Permissions; on Windows: Properties, "
    "Security), or copy it here again from its source."
)


@rule(
    id="unreadable-file",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="cannot be decoded: {detail}",
    cure="Fetch this file again from whoever bounced it, or bounce it again, and play it once from start "
    "to end.",
    again="readable from start to end",
    means="The file cannot be decoded: garbage, no audio in it, a format that is not read here, or no "
    "permission to read it.",
    on_stage="The player shows an offline clip or nothing at all; the part is missing from the first beat.",
    measured="The container is parsed and the audio decoded; either of them failed. A decoder "
    "that crashes or hangs says nothing of the file: such a stem is listed as not checked.",
    source="common practice",
)
def unreadable_file(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    kinds = {fault.kind for fault in stem.faults}
    causes = {fault.cause for fault in stem.faults if fault.kind is FaultKind.UNREADABLE}
    if stem.audio is None and Cause.OURS in causes | {stem.failure_cause}:
        yield Unanswered(reason=stem.failure or "it could not be tried")
    elif causes:
        yield from (
            replace(hit, cure=_cure(causes), again=_again(causes))
            for hit in fault_hits(stem, FaultKind.UNREADABLE)
        )
    elif stem.audio is None and not kinds & EXPLAINS_SILENCE:
        yield Hit(facts={"detail": stem.failure or "no sample of it could be decoded"})


def _cure(causes: set[Cause]) -> str | None:
    """None: the rule's own."""
    if causes == {Cause.PERMISSION}:
        return _ALLOW_READING
    return _BOUNCE_AS_WAV if causes == {Cause.FORMAT} else None


def _again(causes: set[Cause]) -> str | None:
    """None: the rule's own."""
    if causes == {Cause.PERMISSION}:
        return ""
    return "as WAV or FLAC with 16 or 24 bits" if causes == {Cause.FORMAT} else None


@rule(
    id="empty-file",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="holds no audio: {detail}",
    cure="Bounce this stem again, or delete the file if nothing was ever meant to be in it.",
    again="with its sound in it",
    means="The file has zero bytes, or a header and not one sample.",
    on_stage="The part is missing; some players refuse to open the whole song because of one empty file.",
    measured="File size and the number of samples behind the header.",
    source="common practice",
)
def empty_file(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from fault_hits(stem, FaultKind.EMPTY)


@rule(
    id="truncated-file",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="is cut short: {detail}",
    cure="Copy this file again from its source and compare the sizes; if the source is short too, bounce "
    "it again.",
    again="whole, to the end of its last tail",
    means="The header promises more audio than the file holds, or the last frame is only partly there.",
    on_stage="The stem stops in mid-song. Most players say nothing: they play what is there.",
    measured="Length by the header against the bytes present, counted without trusting the decoder.",
    source="Microsoft/IBM RIFF WAVE: chunk sizes; how readers differ: own measurement with libsndfile "
    "1.2.2, ffmpeg 5.1",
)
def truncated_file(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from fault_hits(stem, FaultKind.TRUNCATED)


@rule(
    id="unfinished-header",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="was never finished: {detail}",
    cure="Bounce this stem again and let the export end by itself; until then do not trust its length in "
    "any player.",
    again="exported to its end, the export not broken off",
    means="The recording or export was never closed: the header's length is empty, unlimited or less than "
    "the audio.",
    on_stage="One player shows the full stem, another an empty or a half one: it works at home and fails "
    "at the venue.",
    measured="The data size in the header (0, all ones, or less than what follows) against the bytes "
    "present.",
    source="Microsoft/IBM RIFF WAVE: chunk sizes; how readers differ: own measurement with libsndfile "
    "1.2.2, ffmpeg 5.1",
)
def unfinished_header(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from fault_hits(stem, FaultKind.UNFINISHED)


@rule(
    id="damaged-audio",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="is damaged inside: {detail}",
    cure="Copy this file again from its source and compare the two; check the disk or stick that it came "
    "from.",
    again="undamaged",
    means="A checksum stored in the file does not match the audio: bits have changed since it was written.",
    on_stage="A burst of noise, a hole, or a player that stops; many players decode the damage without a "
    "word.",
    measured="CRC of every frame and the MD5 of the whole stream, where the container stores them.",
    source="RFC 9639 sections 8.2 (MD5) and 9.3 (frame CRC)",
)
def damaged_audio(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    kinds = {fault.kind for fault in stem.faults}
    container = stem.format.container.upper() if stem.format else None
    if FaultKind.DAMAGED in kinds:
        yield from fault_hits(stem, FaultKind.DAMAGED)
    elif container is not None and container not in CARRIES_CHECKSUMS:
        yield NotApplicable(reason=f"{container} stores no checksum")
    elif stem.audio is None:
        yield Unanswered(reason=stem.failure or "its audio cannot be decoded")


@rule(
    id="not-on-disk",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    message="is not here, or not all of it: {detail}",
    cure="Tell the sync service to keep the show's folder on this computer, wait for the download, and "
    "scan again.",
    again=None,
    means="A sync service keeps the name and size here and the bytes in the cloud. Nothing was downloaded "
    "to check it.",
    on_stage="The song loads for minutes, or not at all where the venue has no network.",
    measured="Whether the system marks the file so (macOS, Windows), and whether one block of it is on "
    "this disk; no byte is read. A file with holes has its header here: it is read, its holes "
    "as silence.",
    source="Apple sys/stat.h (SF_DATALESS), Microsoft File Attribute Constants (OFFLINE, RECALL) (from "
    "memory); blocks: own judgement",
)
def not_on_disk(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from fault_hits(stem, FaultKind.NOT_ON_DISK)


@rule(
    id="wrong-extension",
    family="files",
    severity=Severity.WARNING,
    scope="stem",
    message="is not what its name says: {detail}",
    cure="Rename the file to what it is, or bounce it again in the format that the name promises; then "
    "relink it.",
    again=None,
    means="The container is another one than the name's ending says.",
    on_stage="One program opens it, the next refuses it: not something to learn on the spare laptop.",
    measured="The first bytes of the file against its name.",
    source="common practice",
)
def wrong_extension(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    yield from fault_hits(stem, FaultKind.WRONG_EXTENSION)


@rule(
    id="not-finite",
    family="files",
    severity=Severity.ERROR,
    scope="stem",
    needs=("audio",),
    message="{samples} (NaN or infinite); not one may be",
    cure="Turn output and in-ears down before you play it. Find the plug-in that made them, bounce the "
    "stem again.",
    again="without the plug-in that makes samples that are no numbers",
    means="A float file holds samples that are no numbers (NaN) or infinite.",
    on_stage="One such sample in a filter or reverb silences the channel for good, or comes out as a "
    "full-scale bang.",
    measured="Every decoded sample is tested; those found count as silence for all other measures.",
    source="IEEE 754: NaN and infinity spread through every sum they enter",
)
def not_finite(stem: StemEvidence, limit: Limit) -> Iterator[Outcome]:
    if stem.audio is None:
        return
    found = stem.audio.not_finite
    if found:
        yield Hit(
            at_s=seconds_at(stem, stem.audio.not_finite_at_frame),
            sample=stem.audio.not_finite_at_frame,
            facts={"count": found, "samples": count(found, "sample is no number", "samples are no numbers")},
        )
    elif stem.format is not None and not stem.format.is_float:
        yield NotApplicable(reason="whole-number samples are always finite")


@rule(
    id="lossy-file",
    family="files",
    severity=Severity.WARNING,
    scope="song",
    needs=("format",),
    message="stored as {called}, which is lossy",
    cure="Ask for the original and bounce it as WAV or FLAC; a conversion of this file brings nothing back.",
    again="from the original session, not from the coded file",
    means="The stem is stored in a lossy codec such as MP3, Vorbis or Opus.",
    on_stage="It costs decoding time, starts late by the codec's padding in some players, and cymbals and "
    "reverb sound grainy on a big PA.",
    measured="Container and encoding as the header says.",
    source="common practice",
)
def lossy_file(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    lossy = [(stem.name, stem.format) for stem in song.stems if stem.format and stem.format.lossy]
    names = tuple(name for name, _ in lossy)
    if len(lossy) >= 2 and len(lossy) == len(song.stems):
        codecs = listed(sorted({form.encoding for _, form in lossy}))
        called = listed(sorted({_called(form) for _, form in lossy}))
        yield Hit(
            message="all {count} stems of the song are stored as {called}, which is lossy",
            facts={"codec": codecs, "called": called, "count": len(lossy), "stems": names},
        )
        return
    for name, form in lossy:
        known = {"codec": form.encoding, "container": form.container}
        yield Hit(stem=name, facts={**known, "called": _called(form)})


_CALLED = {
    "MPEG_LAYER_III": "MP3",
    "MPEG_LAYER_II": "MP2 (MPEG Layer II)",
    "MPEG_LAYER_I": "MPEG Layer I",
    "VORBIS": "Ogg Vorbis",
    "OPUS": "Opus",
}
"""Encodings as a musician knows them."""


def _called(form: StemFormat) -> str:
    return _CALLED.get(form.encoding, form.encoding.replace("_", " "))


RULES = (
    unreadable_file,
    empty_file,
    truncated_file,
    unfinished_header,
    damaged_audio,
    not_on_disk,
    wrong_extension,
    not_finite,
    lossy_file,
)
