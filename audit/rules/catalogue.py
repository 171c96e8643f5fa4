"""Every rule there is, in the order of the families. A new rule is one name in its module's RULES."""

from __future__ import annotations

from audit.rules import (
    alignment,
    arrangement,
    balance,
    bleed,
    click,
    click_count,
    clipping,
    comb,
    cut_tail,
    damage,
    files,
    foreign,
    format,
    head,
    identity,
    keys,
    layout,
    length,
    loudness,
    machine,
    mixed,
    names,
    offset,
    origin,
    overload,
    patch,
    roster,
    scrambled,
    seal,
    setlist,
    settings,
    shifted,
    silence,
    song_loudness,
    speed,
    splices,
    stereo,
    swaps,
    tail,
    timecode,
    timecode_show,
    timecode_start,
    wrong_rate,
)
from audit.rules.rule import Rule

RULES: tuple[Rule, ...] = (
    # files
    *files.RULES,
    *scrambled.RULES,
    *tail.RULES,
    *names.RULES,
    *roster.RULES,
    *mixed.RULES,
    # format
    *format.RULES,
    *layout.RULES,
    *origin.RULES,
    wrong_rate.wrong_rate_header,
    # length
    *length.RULES,
    *cut_tail.RULES,
    *head.RULES,
    arrangement.stale_arrangement,
    # timing
    alignment.offset_from_click,
    shifted.shifted_by_beats,
    speed.drift_from_click,
    *click.RULES,
    *click_count.RULES,
    # level
    *clipping.RULES,
    *silence.RULES,
    *stereo.RULES,
    *offset.RULES,
    *loudness.RULES,
    *song_loudness.RULES,
    *balance.RULES,
    *overload.RULES,
    # damage
    *damage.RULES,
    *splices.RULES,
    # identity
    *identity.RULES,
    *swaps.RULES,
    *keys.RULES,
    *foreign.RULES,
    *comb.RULES,
    # bleed
    *bleed.RULES,
    # timecode
    *timecode.RULES,
    *timecode_show.RULES,
    *timecode_start.RULES,
    # show
    *patch.RULES,
    *setlist.RULES,
    *settings.RULES,
    # machine
    *machine.RULES,
    # seal
    *seal.RULES,
)
