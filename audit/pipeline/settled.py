"""The show's settings brought to where they work: limits for the rules, entries for the songs, waivers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date

from audit.evidence import IdleWaiver, ShowEvidence
from audit.facts import Show, Song
from audit.findings import ShowAudit
from audit.machine.classes import class_names
from audit.pipeline.limits import limit_in_force
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.rules.rule import Limit, Rule
from audit.rules.settings import idle_waiver
from audit.settings.model import SetList, ShowSettings
from audit.settings.naming import all_names, settings_of_song, song_names
from audit.settings.order import RunningOrder, running_order
from audit.settings.patch import Patch, patch_of
from audit.settings.read import Known
from audit.waivers import still_needed, waive


def known_names() -> Known:
    """The rules' ids and bounds, which settings may name."""
    return Known(
        limits={rule.id: frozenset(rule.limit.more) if rule.limit else None for rule in RULES},
        machine_classes=class_names(),
    )


def limits_of(settings: ShowSettings) -> Mapping[str, Limit]:
    """The limits that the settings move, by rule id."""
    return {rule.id: limit_in_force(rule, settings) for rule in RULES if rule.id in settings.limits}


def song_patch(song: Song, settings: ShowSettings) -> Patch | None:
    """The lines of the patch that are for this song; None where the settings have none for it."""
    entry = settings_of_song(settings, song.name, song.title, song.unmarked)
    patch = patch_of(settings, all_names(song.name, song.title, song.unmarked, entry))
    return patch.bare() if patch.outputs else None


def with_settings(
    show: ShowEvidence, settings: ShowSettings, set_list: SetList | None = None, *, whole: bool = True
) -> ShowEvidence:
    """The show and its songs with what the settings say of them.

    set_list: the one that the scan is for. whole: all songs of the show were heard; else no set list is
    asked, as its songs would be missing.
    """
    show = show if whole else replace(show, partial=True)
    if not settings and set_list is None:
        return show
    songs = tuple(
        replace(song, settings=settings_of_song(settings, song.name, song.song.title, song.song.unmarked))
        for song in show.songs
    )
    show = replace(show, songs=songs, settings=settings)
    if not whole:
        return show
    named = [(song.name, song.listed_names) for song in songs]
    unmarked = {song.name: song.song.title_key for song in songs}
    return replace(
        show,
        order=running_order(set_list, named, unmarked) if set_list is not None else None,
        orders=tuple(running_order(each, named, unmarked) for each in settings.sets),
    )


def set_order(set_list: SetList, show: Show, settings: ShowSettings) -> RunningOrder:
    """The set list laid over a show's folder, of which nothing was heard."""
    named = [
        (
            song.name,
            song_names(
                song.name, song.title, settings_of_song(settings, song.name, song.title, song.unmarked)
            ),
        )
        for song in show.songs
    ]
    return running_order(set_list, named, {song.name: song.title_key for song in show.songs})


def judge_with_settings(
    evidence: ShowEvidence, rules: Sequence[Rule], *, version: str, today: date | None, whole: bool
) -> ShowAudit:
    """The verdicts at the settings' limits, with their waivers; `whole`: all songs of the show were heard.

    A waiver that marks nothing is told only of a rule that was asked, and only where all songs were heard.
    """
    settings = evidence.settings
    audit = judge(evidence, rules, version=version, limits=limits_of(settings))
    audit, unused = waive(audit, settings.waivers, today)
    asked = {rule.id for rule in rules}
    over = tuple(waiver for waiver in unused if waiver.until and today and waiver.until < today)
    needed = still_needed(audit, over)
    idle = tuple(
        IdleWaiver(waiver=waiver, over=waiver in over, needed=waiver in needed)
        for waiver in unused
        if waiver.rule in asked and (whole or waiver in needed)
    )
    if not idle or idle_waiver.id not in asked:
        return audit
    told = judge(replace(evidence, idle_waivers=idle), (idle_waiver,), version=version)
    return replace(audit, show_findings=audit.show_findings + told.show_findings)
