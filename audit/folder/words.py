"""The words that name a role, by role and by how much they prove. Only tables: roles.py reads with them.

Entries are separated by commas; an entry of several words also matches written as one ("leadvox").
Case and accents do not matter. The vocabulary is common practice among people who print stems; the languages
are those in which such names were cheap to list with confidence. A word that names different things in
different trades or languages is left out, and the stem then reads as "other": precision before recall.
"""

from __future__ import annotations

from enum import IntEnum

from audit.facts import Role
from audit.folder.side_words import word_set


class Strength(IntEnum):
    """How much a word proves."""

    HINT = 0  # an everyday word: only where every other word is neutral, and no better word speaks
    PLAIN = 1  # names a role, yet gives way to a more exact word beside it: "Synth Bass", "Keys Organ"
    SHORT = 2  # an abbreviation that is also a name or a word: only where every other word is known
    SURE = 3


SURE, SHORT, PLAIN, HINT = Strength.SURE, Strength.SHORT, Strength.PLAIN, Strength.HINT


ROLE_WORDS: tuple[tuple[Role, Strength, str], ...] = (
    # -- heard by the band and the crew ----------------------------------------------------------------
    (
        Role.CLICK,
        SURE,
        "click, clicks, click track, clk, clks, metronome, metronom, metronomo, klick, klicktrack, klik, "
        "クリック, клик",
    ),
    (Role.CLICK, HINT, "metro, met, clic, claqueta"),
    (
        Role.GUIDE,
        SURE,
        "guide, guides, guide track, guide tracks, guide vox, guide vocal, guide vocals, cue, cues, "
        "cue track, cue mix, scratch vox, scratch vocal, scratch vocals, guia, guias, guida, "
        "vocal count, vox count, voice count, spoken count, stick count, ガイド",
    ),
    (Role.GUIDE, HINT, "gde, gd, md, ansage, ansagen, gids, prompts, talk, talkback, tlk, spoken"),
    (Role.TIMECODE, SURE, "timecode, time code, ltc, smpte, zeitcode, codigo de tiempo, タイムコード"),
    (Role.TIMECODE, HINT, "tc, mtc"),
    # -- drums and everything struck -------------------------------------------------------------------
    (
        Role.DRUMS,
        SURE,
        "drum, drums, drum kit, drumkit, drumset, drum machine, drum pad, drum pads, kick, kicks, kik, "
        "kick drum, kick click, bass drum, snare, snares, snr, hihat, hihats, hi hat, hi hats, hats, "
        "toms, floor tom, rack tom, hi tom, high tom, mid tom, lo tom, low tom, tom 1, tom 2, tom 3, "
        "tom 4, overhead, overheads, cymbal, cymbals, cym, cyms, tr808, tr909, "
        "snare picc, picc snare, snare piccolo, "
        "sub kick, schlagzeug, "
        "snaredrum, bassdrum, grosse trommel, trommeln, becken, batterie, caisse claire, grosse caisse, "
        "bateria, bombo, batteria, cassa, rullante, bumbo, slagwerk, trummor, trommer, perkusja, rummut, "
        "piccolo snare, ドラム, ドラムス, ударные, барабаны",
    ),
    (Role.DRUMS, SHORT, "dr, drs, drm, drms, bd, sd, hh, oh, ohs"),
    (Role.DRUMS, HINT, "kit, ride, crash, hat, brushes, brush kit, brushed kit, tr 808, tr 909"),
    (
        Role.PERCUSSION,
        SURE,
        "perc, percs, percussion, percussions, perc click, perc clicks, shaker, shakers, tambourine, "
        "tambourines, tamb, tambo, conga, congas, bongo, bongos, clap, claps, hand clap, hand claps, "
        "handclap, handclaps, snaps, finger snaps, finger click, finger clicks, cowbell, stomp, stomps, "
        "woodblock, wood block, triangle, timpani, timps, timp, djembe, cajon, tabla, taiko, taikos, hand "
        "drum, hand drums, frame drum, steel drum, steel drums, steel pan, steel pans, timbales, guiro, "
        "claves, bodhran, bodhrans, maracas, cabasa, agogo, mark tree, wind chimes, mallet, mallets, "
        "marimba, vibraphone, vibraphon, vibes, xylophone, xylophon, glock, glockenspiel, tubular bells, "
        "kalimba, perkussion, percu, percussioni, percusion, percusiones, percussao, percussie, slagverk, "
        "pandeiro, spoons, castanets, castagnettes, パーカッション, перкуссия",
    ),
    (Role.PERCUSSION, HINT, "bells, chimes, snap"),
    (
        Role.LOOP,
        SURE,
        "loop, loops, drumloop, drumloops, percloop, percloops, breakbeat, breakbeats, boucle, boucles, "
        "bucle, bucles, ループ",
    ),
    (Role.LOOP, HINT, "tops, top loop, top loops, break, breaks, amen, beat, beats"),
    # -- bass ------------------------------------------------------------------------------------------
    (
        Role.BASS,
        SURE,
        "bass, basses, bassline, bass gtr, bass guitar, guitar bass, sub bass, double bass, dbl bass, "
        "upright bass, string bass, acoustic bass, electric bass, e bass, ebass, synth bass, synbass, "
        "syn bass, key bass, bass synth, kontrabass, bassgitarre, e bassgitarre, synthbass, basse, "
        "contrebasse, guitare basse, basse synthe, bajo, contrabajo, bajo electrico, basso, contrabbasso, "
        "baixo, contrabaixo, contrabass, basgitaar, contrabas, basgitarr, kontrabas, ベース, бас",
    ),
    (Role.BASS, SHORT, "bs, bas"),
    (Role.BASS, HINT, "sub, reese, upright, db bs"),
    # -- plucked and strummed --------------------------------------------------------------------------
    (
        Role.GUITAR,
        SURE,
        "guitar, guitars, gtr, gtrs, gtar, gtars, gtrz, e gtr, e gtrs, a gtr, a gtrs, e guitar, "
        "a guitar, e git, a git, egit, agit, 6 string, 7 string, 12 string, six string, twelve string, "
        "nylon string, steel string, pedal steel, pedal steel gtr, lap steel, slide guitar, steel guitar, "
        "dobro, banjo, ukulele, uke, mandolin, mandola, mando, bouzouki, cittern, balalaika, "
        "charango, telecaster, stratocaster, les paul, "
        "gitarre, gitarren, e gitarre, akustikgitarre, westerngitarre, "
        "konzertgitarre, egitarre, guitare, guitares, guitarra, guitarras, chitarra, chitarre, violao, "
        "violoes, gitaar, gitaren, gitarr, elgitarr, gitarrer, gitara, kitara, ギター, エレキギター, "
        "アコギ, гитара, гитары",
    ),
    (Role.GUITAR, SHORT, "eg, ag, egt, agt, git, gits, gt, gts, elg, acg, psg"),
    (
        Role.GUITAR,
        HINT,
        "acoustic, acoustics, electric, electrics, acc gtr, acustica, steel, tele, strat, reso, "
        "nylon, bouz, hi strung, high strung",
    ),
    # -- keys ------------------------------------------------------------------------------------------
    (
        Role.KEYS,
        PLAIN,
        "keys, kys, keyboard, keyboards, kbd, kbds, keyb, keybs, tasten, claviers, teclado, teclados, "
        "tastiere, tastiera, toetsen, klawisze, キーボード, клавиши",
    ),
    (
        Role.KEYS,
        SURE,
        "rhodes, wurli, wurly, wurlitzer, clav, clavinet, e piano, epiano, electric piano, elec piano, "
        "elec pno, el piano, el pno, e pno, electric pno, harpsichord, cembalo, clavecin, celesta, "
        "celeste, mellotron, accordion, akkordeon, accordeon, fisarmonica, acordeon, "
        "squeezebox, melodeon, concertina, harmonium, bandoneon",
    ),
    (Role.KEYS, SHORT, "ep, eps, rds"),
    (Role.KEYS, HINT, "chord, chords, mello"),
    (
        Role.PIANO,
        SURE,
        "piano, pianos, pno, grand piano, upright piano, toy piano, pianoforte, klavier, konzertflugel, "
        "ピアノ, фортепиано",
    ),
    (
        Role.ORGAN,
        SURE,
        "organ, organs, hammond, b3, church organ, pipe organ, farfisa, vox continental, orgel, orgue, "
        "orgues, organo, orgao, オルガン",
    ),
    (Role.ORGAN, SHORT, "org"),
    (Role.ORGAN, HINT, "leslie"),
    (
        Role.SYNTH,
        PLAIN,
        "synth, synths, syn, syns, synthesizer, synthesizers, synthesiser, synthesisers, synthe, "
        "synthes, sintetizador, sintetizadores, sintetizzatore, シンセ, シンセサイザー, синт",
    ),
    (Role.SYNTH, SURE, "arpeggio, arpeggiator, supersaw, moog"),
    (Role.SYNTH, SHORT, "arp, arps"),
    (Role.SYNTH, HINT, "stab, stabs, seq, acid, tb 303"),
    (
        Role.PAD,
        SURE,
        "pad, pads, drone, drones, drone pad, synth pad, string pad, nappe, nappes, flache, flachen, "
        "synthflachen, streicherflachen, パッド",
    ),
    # -- orchestra -------------------------------------------------------------------------------------
    (
        Role.STRINGS,
        SURE,
        "string, strings, strgs, stgs, violin, violins, vln, vlns, viola, violas, vla, vlas, cello, "
        "cellos, celli, violoncello, fiddle, harp, streicher, geige, geigen, violine, violinen, "
        "bratsche, harfe, cordes, violon, violons, violoncelle, harpe, cuerdas, violonchelo, archi, "
        "violino, violini, cordas, strijkers, strakar, smyczki, ストリングス, バイオリン, струнные, "
        "скрипка",
    ),
    (Role.STRINGS, SHORT, "str, strs, vc, vcl, fdl"),
    (Role.STRINGS, HINT, "pizz, pizzicato"),
    (
        Role.BRASS,
        SURE,
        "brass, horn, horns, hrn, hrns, horn section, french horn, french horns, trumpet, trumpets, tpt, "
        "tpts, trpt, trombone, trombones, tbn, tbns, bass trombone, tuba, flugelhorn, flugelhorns, "
        "euphonium, blaser, blasersatz, blech, blechblaser, trompete, trompeten, posaune, posaunen, "
        "cuivres, trompette, trompettes, trompeta, trompetas, trombon, ottoni, metales, tromba, trombe, "
        "metais, koperblazers, blazers, ブラス, トランペット, труба",
    ),
    (Role.BRASS, HINT, "bone, bones"),
    (
        Role.WOODWIND,
        SURE,
        "sax, saxes, saxs, saxophone, saxophones, tenor sax, alto sax, bari sax, soprano sax, flute, "
        "flutes, clarinet, clarinets, bass clarinet, oboe, oboes, bassoon, bassoons, english horn, "
        "cor anglais, basset horn, pan flute, pan pipes, tin whistle, low whistle, woodwind, woodwinds, "
        "alto flute, bass flute, harmonica, harmonicas, bass harmonica, blues harp, "
        "saxophon, altsax, tenorsax, flote, floten, querflote, klarinette, "
        "klarinetten, fagott, holzblaser, clarinette, hautbois, basson, bassons, flauta, flautas, "
        "clarinete, saxofon, saxo, fagot, flauto, flauti, clarinetto, sassofono, fagotto, legni, fluit, "
        "klarinet, dwarsfluit, piccolo, piccolo flute, bagpipe, bagpipes, uilleann pipes, smallpipes, "
        "フルート, サックス",
    ),
    (Role.WOODWIND, SHORT, "ww"),
    (Role.WOODWIND, HINT, "whistle, whistles, pipes, recorders, flt, picc"),
    # -- voices ----------------------------------------------------------------------------------------
    (
        Role.LEAD_VOCAL,
        PLAIN,
        "vox, voxes, vocal, vocals, voc, vocs, voice, voices, vx, gesang, stimme, voix, voz, voces, "
        "vozes, voce, voci, zang, sang, wokal, ボーカル, вокал",
    ),
    (
        Role.LEAD_VOCAL,
        SURE,
        "lead vox, lead vocal, lead vocals, lead voice, ld vox, lvox, lead voc, lead vocs, leadgesang, "
        "voz principal, voix principale, voix lead, voce principale, hoofdzang, acapella, acappella, "
        "a cappella, a capella, リードボーカル",
    ),
    (Role.LEAD_VOCAL, SHORT, "lv, lvs, ldv"),
    (
        Role.LEAD_VOCAL,
        HINT,
        "chant, canto, adlibs, ad libs, adlib, ad lib, mc, rap, raps, vocoder, talkbox, "
        "lead dbl, lead dbls, lead double, "
        "lead doubles, ld dbl",
    ),
    (
        Role.BACKING_VOCALS,
        SURE,
        "bgv, bgvs, bv, bvox, b vox, bk vox, bk vocal, bk vocals, bkg vox, bgvox, bvs, backing vox, "
        "backing vocal, backing vocals, background vocals, background vox, back vox, back vocals, "
        "gang vox, gang vocal, gang vocals, gangs, group vox, hype vox, hype vocals, "
        "group vocals, crowd vox, harmonies, harms, bass vox, bass vocal, bass vocals, bass voice, "
        "hintergrundgesang, backgroundgesang, backings, chorgesang, choeurs, voix de fond, "
        "voix secondaires, coros, cori, achtergrondzang, korsang, コーラス, бэк вокал, бэки",
    ),
    (Role.BACKING_VOCALS, SHORT, "bgs, bkv, bkgv"),
    (Role.BACKING_VOCALS, HINT, "harmony, hv, backups, gang, hype, hype man, hypeman"),
    (
        Role.CHOIR,
        SURE,
        "choir, choirs, satb, chor, kinderchor, choeur, chorale, coro, koor, kor, хор, 合唱",
    ),
    # -- the rest --------------------------------------------------------------------------------------
    (
        Role.EFFECTS,
        SURE,
        "fx, sfx, efx, effects, effect, sound fx, riser, risers, uplifter, uplifters, downlifter, "
        "downlifters, impact, impacts, whoosh, whooshes, swoosh, sub drop, sub drops, rev cym, "
        "rev cymbal, rev crash, reverse cymbal, white noise, noise sweep, ear candy, foley, ambience, "
        "ambiance, applause, crowd, crowds, air horn, soundscape, effekt, effekte, effet, effets, "
        "bruitage, bruitages, efecto, efectos, effetto, effetti, efeito, efeitos, effecten, effekter, "
        "効果音",
    ),
    (
        Role.EFFECTS,
        HINT,
        "noise, gated noise, one shot, one shots, oneshot, oneshots, atmo, atmos, sweep, sweeps, "
        "transitions, vinyl, crackle, crackles, scratch, scratches, cuts, turntable, turntables, dj scratch, "
        "dj scratches, dj cuts, verb, reverb, delay, boom, booms, glitch, glitches, granular, texture, "
        "textures, atm",
    ),
    (
        Role.FULL_MIX,
        SURE,
        "backing track, backing tracks, backing trk, backing trks, halbplayback, vollplayback, "
        "bande son, bande orchestre",
    ),
    (
        Role.FULL_MIX,
        PLAIN,
        "mix, mixes, full mix, stereo mix, main mix, rough mix, tv mix, mix down, mix minus, 2mix, 2trk, "
        "playback, playbacks, master, mezcla, mescla, missaggio, mischung, ミックス",
    ),
    (
        Role.FULL_MIX,
        HINT,
        "track, trk, tracks, trks, trax, trx, pb, band, bt, instrumental, inst, karaoke, music",
    ),
    # -- names an instrument or a voice without a role here, so that no part of it is misread --
    (
        Role.OTHER,
        SURE,
        "theremin, orchestra, orchestre, orchester, orquesta, basso continuo, "
        "voice over, voiceover, voice memo, ipad",
    ),
)

ONE_TRACK_WORDS = word_set("track trk")
"""Mean the whole playback only beside another channel ("Trk L Clk R"): "Track 07" is any track."""

COUNT_WORDS = (
    "count, counts, count in, countin, counting in, count off, countoff, einzahler, vorzahler, "
    "cnt in, decompte, conteo, contagem, conteggio, aftellen"
)
"""Guide words that give way to a click: a click that counts in is a click. "count" alone is a HINT."""

DOMINANT_WORDS = word_set(
    """
    fx sfx efx effects effect effekte effekt effets effet efectos efecto effetti effetto efeitos
    efeito
    """
)
"""Make an effects stem wherever they stand: "Vocal FX" is a print of throws, delays and chops, and levels or
leaks of the voice itself are not to be judged by it. A "Verb" or "Room" stays with its instrument."""

BACKING_WORDS = word_set(
    """
    backing background bg bgd bkg bkgd backup backups harmony harm harms harmonies gang
    """
)
"""Beside a vocal word they make it backing vocals, in any order: "BG Female Vox", "Vox Harm Hi"."""

LEAD_WORDS = word_set("lead ld main principal principale")


FAMILIES: tuple[frozenset[Role], ...] = (
    frozenset({Role.DRUMS, Role.PERCUSSION, Role.LOOP}),
    frozenset({Role.KEYS, Role.PIANO, Role.ORGAN, Role.SYNTH, Role.PAD}),
    frozenset({Role.BACKING_VOCALS, Role.CHOIR}),
    frozenset({Role.BRASS, Role.WOODWIND}),
)
"""Joined names of one family take the role named first ("Drums & Perc"); "Bass & Drums" has none."""

PLAIN_ORDER = (Role.SYNTH, Role.KEYS, Role.LEAD_VOCAL, Role.FULL_MIX)
"""Of several plain words the first of this order is the most exact: "Synth Keys", "Vox Mix"."""
