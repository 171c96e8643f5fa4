"""Words beside those that name a role: sides, joiners, numbers, and what says nothing. Only tables."""

from __future__ import annotations


def word_set(text: str) -> frozenset[str]:
    return frozenset(text.split())


SIDES = {
    **dict.fromkeys(word_set("l left links li lnks gauche izquierda sinistra esquerda"), "L"),
    **dict.fromkeys(word_set("r right rechts re droite derecha destra direita"), "R"),
}
"""Words for the two sides of a stereo file."""

JOINER_WORDS = word_set("and und et y och plus")

JOINER_SIGNS = frozenset("+&/|:,∕⁄＋＆／")

NEUTRAL_WORDS = word_set(
    """
    track tracks trk trks tr stem stems audio mono stereo st ste lr rl main lead ld rhythm rhy rtm di
    amp mic mics dry wet hi lo low high mid top bottom btm in out inside outside front rear side room
    rooms close far clean dist crunch overdrive drive fuzz wah comp eq dbl double doubles dub dubs
    layer layers stack stacks verse vs v chorus chr ch bridge brg intro outro pre post prechorus tag
    vamp solo fill fills hook break breakdown drop build interlude refrain strophe hit hits shout
    shouts ooh oohs aah aahs stab stabs swell swells lick licks riff riffs line lines part parts verb
    reverb delay slap bus buss bss grp group sum sub aux submix print prints printed bounce bounced
    render export copy kopie copie copia latest fixed updated consolidated edit edited tuned comped
    warped final new old alt raw live full no nr num number take tk section sect bpm hz khz bit bits
    fps df ndf p k s ms am pm maj min major minor key tempo version ver rev iem iems ear ears mon
    monitor monitors drummer bassist singer foh trigger triggers trig trigs pa left right male female
    kids children childrens gospel warm soft big small wide for with without w wo all only grand felt
    upright fretless electric acoustic elec elek ac el acustica acustico electrica electrico elettrica
    elettrico acoustique electrique akustisch akustik elektrisch hand hands finger floor rack shot
    shots one note notes pattern octave oct harm ensemble quartet trio duo tenor alto soprano bari
    baritone crush crushed smash smashed squash squashed i ii iii iv vi
    """
)
"""Words beside a role that say nothing against it."""

NEGATIONS = word_set("no not without wo minus ohne sans sin senza sem zonder except")
"""What follows one is not in the stem: "Mix - no click", "Vox Dry (no FX)". "No 2" is a number."""

TITLE_BEFORE = word_set("the my your our his her their of")

TITLE_AFTER = word_set("of me my you your us the is are was were we")
"""Function words: a role word that touches one stands in a title ("Guide Me Home", "Up the Bass")."""

NUMBERED_WORDS = word_set(
    """
    track trk tr spur piste pista pist canal channel chan ch kanal audio aud stem input inst tk t a
    """
)
"""Words that, with a number, only count a file: "Trk 07 Bass"."""
