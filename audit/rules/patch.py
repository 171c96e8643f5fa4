"""Rules on the output patch of the settings: what is routed nowhere, to the wrong ears, or elsewhere."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from audit.evidence import PartEvidence, ShowEvidence, SongEvidence, StemEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.parts import listed
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule
from audit.settings.model import AUDIENCE, Output
from audit.settings.patch import Patch, patch_of, routes
from audit.units import count

NO_PATCH = NotApplicable(reason="no output patch in the settings")


def patch_for(song: SongEvidence, show: ShowEvidence) -> Patch:
    return patch_of(show.settings, song.names)


def lines_of(patch: Patch, stem: StemEvidence, part: PartEvidence) -> list[Output]:
    """The lines of the patch that a part of a stem goes to."""
    found = routes(patch, stem.name, ((part.role, part.measures.channels),))
    return [route.line for route in found]


def outputs_words(line: Output) -> str:
    """`outputs 1 and 2 (Band)`, `output 3`."""
    numbers = " and ".join(map(str, line.out))
    name = f" (“{line.name}”)" if line.name else ""
    return f"output{'s' if len(line.out) > 1 else ''} {numbers}{name}"


def _sounding(song: SongEvidence) -> Iterator[tuple[StemEvidence, PartEvidence]]:
    for stem in song.stems:
        for part in stem.parts:
            if not part.silent:
                yield stem, part


def _not_played(song: SongEvidence) -> frozenset[str]:
    """What the song's sum leaves out: older versions, copies, a full mix beside its parts."""
    return frozenset(stem for stem, _ in song.mix.left_out) if song.mix else frozenset()


@rule(
    id="unrouted-stem",
    family="show",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    message="goes to no output: no line of the patch names it or its role ({role})",
    cure="Add its role or its file name to a line under [[outputs]] in the settings, and route it in the "
    "player.",
    again=None,
    means="A stem that the audience should hear fits no line of the output patch. A click, guide or "
    "timecode that "
    "fits none is a warning.",
    on_stage="Nobody hears it; and nobody misses it before the song is on.",
    measured="Each part of each stem against the lines of the patch that are for its song. Silent stems, "
    "older "
    "versions, copies and a full mix beside its parts are not asked.",
    source="common practice",
)
def unrouted_stem(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.outputs:
        yield NO_PATCH
        return
    patch, without = patch_for(song, show), _not_played(song)
    for stem, part in _sounding(song):
        if stem.name not in without and not lines_of(patch, stem, part):
            yield Hit(
                stem=stem.name,
                severity=None if part.audience else Severity.WARNING,
                facts={"role": part.role.value},
            )


@rule(
    id="crew-on-audience-output",
    family="show",
    severity=Severity.ERROR,
    scope="song",
    needs=("audio",),
    message="{role} on {outputs}, which the audience hears",
    cure="Move it to an output of its own. Keep PA and recording muted until that is done and checked at low "
    "level; local rules and qualified crew decide what is safe.",
    again=None,
    means="Click, guide or timecode is patched to an output that the audience hears.",
    on_stage="The house hears the click, a counting voice or the scream of timecode, on the record too.",
    measured="The role of every part, by name or by sound, against the lines of the patch whose heard_by is "
    "audience. Roles that the settings give to the audience are not asked.",
    source="common practice",
)
def crew_on_audience_output(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.outputs:
        yield NO_PATCH
        return
    patch = patch_for(song, show)
    for stem, part in _sounding(song):
        if part.audience:
            continue
        wrong = [line for line in lines_of(patch, stem, part) if line.heard_by == AUDIENCE]
        if wrong:
            yield Hit(
                stem=stem.name,
                facts={
                    "role": part.role.value,
                    "outputs": ", ".join(map(outputs_words, wrong)),
                    "numbers": tuple(sorted({number for line in wrong for number in line.out})),
                },
            )


@rule(
    id="split-pair",
    family="show",
    severity=Severity.WARNING,
    scope="show",
    needs=("audio",),
    message="{outputs} carry stereo stems and are no neighbours: {listed}",
    cure="Patch left and right to neighbouring outputs, left first, or correct the line in the settings.",
    again=None,
    means="A stereo stem goes to two outputs that do not follow each other, or to a pair with its sides "
    "exchanged.",
    on_stage="Whoever turns one fader or swaps one cable leaves half of a stereo stem behind.",
    measured="Lines of the patch with two outputs, where a stem of two channels goes to them.",
    source="common practice: consoles and stage boxes link neighbouring channels",
)
def split_pair(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.outputs:
        yield NO_PATCH
        return
    for line in show.settings.outputs:
        if len(line.out) < 2 or line.out[1] == line.out[0] + 1:
            continue
        found = [
            (song.name, stem.name)
            for song in show.songs
            for stem, part in _sounding(song)
            if len(part.measures.channels) > 1 and line in lines_of(patch_for(song, show), stem, part)
        ]
        if found:
            exchanged = line.out[0] == line.out[1] + 1
            yield Hit(
                songs=tuple(dict.fromkeys(song for song, _ in found)),
                message=_EXCHANGED if exchanged else None,
                facts={
                    "outputs": outputs_words(line),
                    "numbers": line.out,
                    "listed": listed(list(dict.fromkeys(stem for _, stem in found)), most=4),
                },
            )


_EXCHANGED = "{outputs} carry stereo stems with left and right exchanged: {listed}"


@rule(
    id="output-moved",
    family="show",
    severity=Severity.WARNING,
    scope="show",
    needs=("audio",),
    limit=Limit(value=3.0, unit="songs"),
    message="{role} goes to {here} in {song}, and to {usual} in {number}",
    cure="If that is meant, waive it; else give the role one line for all songs under [[outputs]].",
    again=None,
    means="A role goes to other outputs in a song than in most others, {limit:g} at least.",
    on_stage="The engineer's fader for that part is dead in this song, and another one carries it.",
    measured="The set of outputs of each role that the names or the sound tell, song against song.",
    source="common practice",
)
def output_moved(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    if not show.settings.outputs:
        yield NO_PATCH
        return
    outputs: dict[Role, dict[str, set[int]]] = {}
    for song in show.songs:
        patch, without = patch_for(song, show), _not_played(song)
        for stem, part in _sounding(song):
            if part.role is Role.OTHER or stem.name in without:
                continue
            numbers = {number for line in lines_of(patch, stem, part) for number in line.out}
            if numbers:
                outputs.setdefault(part.role, {}).setdefault(song.name, set()).update(numbers)
    for role, by_song in outputs.items():
        usual, agree = Counter(map(frozenset, by_song.values())).most_common(1)[0]
        if agree < limit.value or 2 * agree <= len(by_song):
            continue
        for song_name, here in by_song.items():
            if here != usual:
                yield Hit(
                    songs=(song_name,),
                    value=float(agree),
                    facts={
                        "role": role.value,
                        "song": song_name,
                        "here": _numbers_words(here),
                        "usual": _numbers_words(usual),
                        "number": count(agree, "song"),
                    },
                )


def _numbers_words(numbers: set[int] | frozenset[int]) -> str:
    return f"output{'s' if len(numbers) > 1 else ''} {', '.join(map(str, sorted(numbers)))}"


@rule(
    id="too-many-outputs",
    family="show",
    severity=Severity.ERROR,
    scope="show",
    message="the patch uses output {highest}, the interface{whose} has {has}: {listed}",
    cure="Put roles together on fewer outputs, or bring an interface that has them.",
    again=None,
    means="The patch names outputs that the interface does not have.",
    on_stage="What is patched there comes out nowhere, or the player refuses the song.",
    measured="The highest number in the patch against the outputs of the interface in the settings, and "
    "of each "
    "machine's there.",
    source="common practice",
)
def too_many_outputs(show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    settings = show.settings
    interfaces = [("", settings.interface_outputs)]
    interfaces += [(f" of “{machine.name}”", machine.outputs) for machine in settings.machines]
    known = [(whose, has) for whose, has in interfaces if has is not None]
    if not settings.outputs or not known:
        yield NotApplicable(reason="no output patch, or no interface, in the settings")
        return
    highest = max(number for line in settings.outputs for number in line.out)
    for whose, has in known:
        beyond = [line for line in settings.outputs if max(line.out) > has]
        if beyond:
            yield Hit(
                facts={
                    "highest": highest,
                    "has": has,
                    "whose": whose,
                    "listed": listed(
                        [f"{outputs_words(line)} for {', '.join(line.stems)}" for line in beyond]
                    ),
                }
            )


RULES = (unrouted_stem, crew_on_audience_output, too_many_outputs, split_pair, output_moved)
