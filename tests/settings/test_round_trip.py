"""`stemaudit settings` over whole shows: what it writes changes nothing of the report it was made from."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from audit.facts import Show
from audit.findings import Finding, ShowAudit
from audit.folder.walk import walk
from audit.pipeline.inferred import inferred
from audit.pipeline.scan import tasks_of
from audit.pipeline.settled import judge_with_settings, known_names, with_settings
from audit.rules.catalogue import RULES
from audit.rules.engine import judge
from audit.settings.model import ShowSettings
from audit.settings.read import read_settings
from audit.settings.write import settings_text
from tests.test_rule_texts import CASES


def written(audit: ShowAudit, folder: Path) -> ShowSettings:
    """What `stemaudit settings` writes of the show, as a scan reads it."""
    file = folder / "show.toml"
    file.write_text(settings_text(inferred(audit)), encoding="utf-8")
    return read_settings(file, known_names())


def told(findings: list[Finding]) -> list[tuple[object, ...]]:
    """All that a report says of each."""
    return [
        (f.rule, f.severity, f.songs, f.stem, f.at_s, f.value, f.limit, f.message, f.advice)
        for f in findings
    ]  # fmt: skip


SAYS_WHY = {"timecode-rate"}
"""Whose words say whether the settings or the other songs have it so."""

SHOWS = [
    (f"{rule_id}: {case.name}", case.show)
    for rule_id, cases in CASES.items()
    for case in cases
    if not (case.show.settings or case.show.order or case.show.idle_waivers or case.show.partial)
    if case.kind in ("planted", "clean")
]


def test_of_every_show_that_a_rule_is_tried_on(tmp_path: Path):
    """Faults and clean shows of every kind, each with the settings that a scan of it writes."""
    assert len(SHOWS) > 400
    for name, show in SHOWS:
        audit = judge(show, RULES, version="test")
        evidence = with_settings(show, written(audit, tmp_path))
        again = judge_with_settings(evidence, RULES, version="test", today=None, whole=True)
        old, new = (told(list(one.all_findings())) for one in (audit, again))
        assert [f for f in new if f[0] not in SAYS_WHY] == [f for f in old if f[0] not in SAYS_WHY], name
        assert [f[:4] for f in new] == [f[:4] for f in old], name


def bare(show: Show) -> Show:
    """What is heard of the show: not where its settings lie, nor that a version was named."""
    songs = tuple(
        replace(
            song,
            wanted_version=None,
            stems=tuple(replace(stem, is_wanted=False, crew_roles=()) for stem in song.stems),
        )
        for song in show.songs
    )
    return replace(show, songs=songs, passed_over=())


def check_nothing_changes(audit: ShowAudit, folder: Path) -> ShowSettings:
    settings = written(audit, folder)
    path = audit.evidence.show.path
    before, after = walk(path), walk(path, settings=settings)
    assert bare(after) == bare(before)
    for one, two in zip(tasks_of(before, 2), tasks_of(after, 2, settings), strict=True):
        assert (one.fit_enough, one.patch) == (two.fit_enough, two.patch)
        assert two.show_rate_hz in (one.show_rate_hz, audit.sample_rate_hz)
    again = judge_with_settings(
        with_settings(audit.evidence, settings), RULES, version=audit.version, today=None, whole=True
    )
    assert told(list(again.all_findings())) == told(list(audit.all_findings()))
    assert [audit.verdict(song) for song in audit.songs] == [again.verdict(song) for song in again.songs]
    assert again.incomplete == audit.incomplete
    return settings


def test_of_the_ordinary_show(ordinary_scan: ShowAudit, tmp_path: Path):
    settings = check_nothing_changes(ordinary_scan, tmp_path)
    assert len(settings.songs) == len(ordinary_scan.songs)
    assert settings.sample_rate_hz == ordinary_scan.sample_rate_hz


def test_of_the_demo_with_all_its_faults(demo_scan: ShowAudit, tmp_path: Path):
    assert len(list(demo_scan.all_findings())) > 15
    settings = check_nothing_changes(demo_scan, tmp_path)
    assert len(settings.songs) == len(demo_scan.songs)


def test_of_rendered_songs(corpus_scan: ShowAudit, tmp_path: Path):
    assert len(corpus_scan.songs) == 5
    check_nothing_changes(corpus_scan, tmp_path)
