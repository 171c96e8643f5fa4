"""Two stems of a song that carry each other's names."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations

from audit.evidence import ShowEvidence, SongEvidence
from audit.facts import Role
from audit.findings import Severity
from audit.rules.profile import Likeness, likeness, voices_of
from audit.rules.rule import Hit, Limit, NotApplicable, Outcome, rule

Found = tuple[Likeness, Role, Role]


@rule(
    id="swapped-stems",
    family="identity",
    severity=Severity.WARNING,
    scope="song",
    needs=("audio",),
    limit=Limit(value=1.0, unit="spreads²", more={"songs": 5, "apart": 1.0, "each": 0.3, "left": 0.5}),
    message="sounds like the {second_role} of this show, and {second} like the {first_role}: under each "
    "other's name they would be {value:.1f} steps closer to what those are elsewhere, limit {limit:.1f}",
    cure="Listen to both; if they carry each other's names, exchange the names (or bounce both again), and "
    "check the outputs they are patched to.",
    again=None,
    means="Two stems of a song whose content fits each other's role better than their own.",
    on_stage="Each part comes out of the other's channel: the wrong fader, the wrong effects, the wrong "
    "ears.",
    measured="A role's profile over the other songs: eight bands from 40 to 2800 Hz, onsets a second, how "
    "tonal it is, how wide; medians, and robust spreads. How far both stems lie from their own role's "
    "profile and from each other's (mean of the squares, in spreads) is compared: exchanged, both together "
    "have to fit better by more than {limit:g}, each by {each:g}, and at most {left:.0%} of the distance may "
    "be left. At least {songs:.0f} songs have both roles, and the other songs' stems fit their own roles "
    "better by {apart:g}, or the two roles are too much alike to tell.",
    source="own judgement; limits: own measurement on exchanged stems (tests.identity_lab)",
)
def swapped_stems(song: SongEvidence, show: ShowEvidence, limit: Limit) -> Iterator[Outcome]:
    by_song = voices_of(show)
    own = by_song[song.name]
    asked = False
    found: list[Found] = []
    for first, second in combinations(sorted(own, key=lambda role: list(Role).index(role)), 2):
        others = [
            (found[first].profile, found[second].profile)
            for name, found in by_song.items()
            if name != song.name and first in found and second in found
        ]
        if len(others) + 1 < limit["songs"]:
            continue
        asked = True
        firsts, seconds = [a for a, _ in others], [b for _, b in others]
        here = likeness(own[first].profile, own[second].profile, firsts, seconds)
        each = min(here.first_other, here.second_other)
        # What is like neither role is a strange sound in both places, not an exchanged one.
        strange = here.other > limit["left"] * here.own
        if here.gain <= limit.value or each < limit["each"] or strange:
            continue
        # leave one out: does the pair keep apart in the songs that nobody doubts?
        apart = sorted(
            -likeness(a, b, firsts[:n] + firsts[n + 1 :], seconds[:n] + seconds[n + 1 :]).gain
            for n, (a, b) in enumerate(others)
        )
        if apart[len(apart) // 4] > limit["apart"]:
            found.append((here, first, second))
    if not asked:
        yield NotApplicable(reason="too few songs have the same two roles to compare with")
    told: set[Role] = set()
    for here, first, second in sorted(found, key=lambda one: -one[0].gain):
        if not told & {first, second}:
            told |= {first, second}
            yield Hit(
                stem=own[first].stem.name,
                value=here.gain,
                facts={
                    "second": own[second].stem.name,
                    "first_role": first.value,
                    "second_role": second.value,
                    "own_distance": here.own,
                    "other_distance": here.other,
                },
            )


RULES = (swapped_stems,)
