"""Audits made by hand for the tests of the reports: a clean show, a faulty one, one full of hostile names."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

from audit.evidence import SongEvidence
from audit.facts import PassedOver, Role
from audit.findings import Finding, Severity, ShowAudit, SongAudit, Unmeasured
from audit.rules.catalogue import RULES
from tests.evidence import mix, part, show, song, stem

CLEAN_SONGS = (
    "01 Harbour Lights", "02 Copper Weathervane", "03 Slow Escalator", "04 Winter Ferry", "05 Paper Lanterns",
    "06 Tin Roof Choir", "07 Salt Road", "08 Last Tram",
)  # fmt: skip


def finding(rule: str, severity: str, stem: str | None, songs: tuple[str, ...], **fields: Any) -> Finding:
    """With the words of no rule; what a new bounce mends asks for one."""
    again = any(one.id == rule and one.again is not None for one in RULES)
    words = {
        "message": f"{rule} was measured, limit 2.0", "advice": f"Mend {rule} and bounce again.",
        "again": f"without the {rule}" if again else "",
    }  # fmt: skip
    return Finding(rule=rule, severity=Severity(severity), stem=stem, songs=songs, **{**words, **fields})


def audit_of(
    *songs: SongEvidence,
    findings: tuple[Finding, ...] = (),
    show_findings: tuple[Finding, ...] = (),
    unmeasured: dict[str, tuple[Unmeasured, ...]] | None = None,
    not_applicable: dict[str, int] | None = None,
    passed_over: tuple[PassedOver, ...] = (),
) -> ShowAudit:
    """Each finding goes to the song that it names, worst first."""
    evidence = show(*songs)
    evidence = replace(evidence, show=replace(evidence.show, passed_over=passed_over))
    return ShowAudit(
        evidence=evidence,
        songs=tuple(
            SongAudit(
                evidence=each,
                findings=tuple(
                    sorted((f for f in findings if f.songs == (each.name,)), key=lambda f: f.severity.rank)
                ),
                unmeasured=(unmeasured or {}).get(each.name, ()),
            )
            for each in songs
        ),
        show_findings=show_findings,
        not_applicable=not_applicable or {},
        sample_rate_hz=48000,
        bits=24,
        version="test",
    )


def healthy(name: str, *extra: Any) -> SongEvidence:
    stems = [stem(f"{word}.wav") for word in ("Click", "Guide", "Timecode", "Drums", "Bass", "Keys")]
    heard = mix(loudness={"integrated_lufs": -16.1}, from_stems=("Drums.wav", "Bass.wav", "Keys.wav"))
    return song(name, *stems, *extra, mix=heard)


def clean_audit() -> ShowAudit:
    return audit_of(*(healthy(name) for name in CLEAN_SONGS), not_applicable={"dual-mono": 12})


def split_stem() -> Any:
    """Click on the left, timecode on the right."""
    return stem(
        "Click+LTC.wav",
        role="click",
        parts=[part(Role.CLICK, channels=(0,)), part(Role.TIMECODE, channels=(1,))],
    )


def faulty_audit() -> ShowAudit:
    """Errors in two of four songs, one stem that could not be read, notes, a note for the show, litter."""
    lights, vane, escalator, ferry = CLEAN_SONGS[:4]
    songs = (
        healthy(lights),
        healthy(vane, stem("Plucks.wav"), stem("Broken.wav", unreadable=True), split_stem()),
        song(escalator, stem("Click.wav")),
        song(ferry, stem("Click.wav"), stem("Pad.wav", silent=True)),
    )
    findings = (
        finding(
            "truncated-file", "error", "Bass.wav", (vane,), at_s=61.25, sample=2940000, value=12.5, limit=0.0,
            unit="s", message="ends 12.5 s early: the header promises 72.5 s, 60 s are there",
            advice="Copy it again from where it came from.", measured={"bytes": (1, 2)},
        ),
        finding("unreadable-file", "error", "Broken.wav", (vane,), message="no audio format was recognised"),
        finding("true-peak-over", "warning", "Drums.wav", (vane,), at_s=12.3, message="+0.4 dBTP, limit 0.0"),
        finding("true-peak-over", "warning", "Keys.wav", (vane,), at_s=31.0, message="+0.2 dBTP, limit 0.0"),
        finding("bit-depth-mismatch", "warning", "Drums.wav", (lights,), message="16 bit, the show has 24"),
        finding("bit-depth-mismatch", "warning", "Bass.wav", (lights,), message="16 bit, the show has 24"),
        finding("sample-clipping", "error", "Pad.wav", (ferry,), at_s=3.0, message="12 samples in a row"),
        finding("dual-mono", "note", "Keys.wav", (vane,), message="both sides are the same", value=-math.inf),
        finding("dual-mono", "note", "Drums.wav", (vane,), message="both sides are the same"),
    )  # fmt: skip
    whole = (
        finding("set-list-missing", "warning", None, (lights, ferry), message="two songs, one key"),
        finding("stray-file", "note", None, (), message="a document lies among the songs"),
    )
    gaps = tuple(
        Unmeasured(rule=rule, stem="Broken.wav", reason="no audio format was recognised")
        for rule in ("true-peak-over", "dual-mono", "sample-clipping")
    )
    return audit_of(
        *songs,
        findings=findings,
        show_findings=whole,
        unmeasured={vane: gaps},
        not_applicable={"length-mismatch": 2},
        passed_over=(
            PassedOver(path="._Bass.wav", reason="hidden"),
            PassedOver(path="notes.txt", reason="not audio", stray=True),
        ),
    )


HOSTILE = (
    "[bold red]Bass[/bold red].wav",
    "\x1b[31mred\x1b[0m.wav",
    "two\nlines\r.wav",
    "right\u202evaw.exe",
    "tab\tbell\x07.wav",
    "caf\udce9 no utf-8.wav",
    ":smile: emoji.wav",
    "日本語のとても長い名前" * 4 + ".wav",
    "a" * 230 + ".wav",
    "{limit} %s \\x.wav",
)
"""Names that some file system accepts and some terminal would obey."""


def hostile_audit() -> ShowAudit:
    songs = [song(f"Song {name}", stem(name, role="bass"), mix=mix()) for name in HOSTILE]
    findings = tuple(
        finding("dropout", "error", name, (f"Song {name}",), at_s=1.0, message=f"a hole in {name}")
        for name in HOSTILE
    )
    gaps = {
        f"Song {name}": (Unmeasured(rule="dc-offset", stem=name, reason=f"{name} broke"),) for name in HOSTILE
    }
    return audit_of(
        *songs,
        findings=findings,
        show_findings=(finding("stray-file", "note", None, (), message=f"lies about: {HOSTILE[1]}"),),
        unmeasured=gaps,
        passed_over=tuple(PassedOver(path=name, reason=f"odd {name}") for name in HOSTILE),
    )
