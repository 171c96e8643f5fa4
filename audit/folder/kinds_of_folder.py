"""What a folder is by its name: a holder of files, a version, an archive, a group of stems, or a title.

The name alone decides nothing: "Drums" may be a group of stems in a song, or a song. shape.py decides.
"""

from __future__ import annotations

from enum import Enum
from functools import lru_cache

from audit.folder.roles import names_only_a_role, without_title, without_track_number
from audit.folder.tokens import compose, cut
from audit.folder.versions import take_off_marks


class FolderKind(Enum):
    HOLDER = "a holder of files"  # "Audio", "Stems", "WAV 48k", or the song's own name once more
    WORKING = "a working folder of a recording program"  # used only where nothing else holds audio
    VERSION = "a version"  # "v2", "2026-05-01", "Mix 3", "Stems FINAL"
    ARCHIVE = "put aside"  # "old", "Backup", "Reference"
    GROUP = "a group of stems"  # "Drums", "02 Lead Vox": role words and nothing else
    TITLE = "a title"  # anything else


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


_HOLDER_WORDS = _words(
    """
    audio stem stems bounce bounces bounced file files wav wavs wave waves aif aiff flac caf mp3 aac
    m4a ogg opus export exports exported render renders rendered print prints printed mixdown
    mixdowns consolidated multitrack multitracks tracks media khz hz k kbps bit bits mono stereo
    split spuren pistes pistas dateien exporte lossless lossy high low res master masters
    """
)
_ONLY_QUALIFIES = _words("k khz hz kbps bit bits mono stereo high low res master masters")
_LOSSY_WORDS = _words("mp3 aac m4a ogg opus lossy")
_ARCHIVE_WORDS = _words(
    """
    old older archive archives archived archiv backup backups bak previous superseded outdated
    unused trash bin deleted rejected reference references ref refs demo demos rehearsal rehearsals
    dnu alte altes vieux viejo viejos vecchi velho velhos
    """
)
_NEVER_TITLES = _words(
    """
    old older archive archives archived archiv backup backups bak previous superseded outdated deleted dnu
    reference references ref refs alte altes vieux viejo viejos vecchi velho velhos
    """
)
_OFFICE_WORDS = _words(
    """
    art artwork cover covers doc docs document documents documentation info notes text texts lyrics chords
    chart charts score scores sheet sheets music setlist setlists set list lists running order plot plots
    stage rider riders tech photo photos picture pictures image images logo logos font fonts video videos
    visual visuals content lighting lights light show shows midi preset presets patch patches session
    sessions project projects template templates software installer installers driver drivers admin contract
    contracts press promo merch travel misc various other others stuff new untitled neuer folder ordner temp
    tmp test tests inbox outbox sort sorted download downloads upload uploads here empty placeholder
    dokumente noten texte bilder fotos letras partituras documentos paroles partitions documenti testi
    """
)
_SET_ASIDE_PHRASES = frozenset({"do not use", "not used", "dont use"})
_WITH_ARCHIVE = _words("version versions mix mixes v stuff x z zz songs takes do not use")
_WORKING_NAMES = frozenset(
    {"audio files", "samples", "imported", "recorded", "recordings", "session", "project", "session files"}
)


@lru_cache(maxsize=20_000)
def kind_of_folder(name: str, title: str = "") -> FolderKind:
    """What a folder's name says it is, inside a folder that bears the title (a song's name, or empty)."""
    text = compose(name)
    rest = without_title(text, title) if title else text
    if rest is None:
        return FolderKind.HOLDER
    words = [token.word for token in cut(rest, _HOLDER_WORDS) if not token.is_number]
    row = " ".join(words)
    if row in _WORKING_NAMES:
        return FolderKind.WORKING
    if row in _SET_ASIDE_PHRASES or _is_made_of(words, _ARCHIVE_WORDS, _HOLDER_WORDS | _WITH_ARCHIVE):
        return FolderKind.ARCHIVE
    marked = take_off_marks(rest, keep_a_name=False)
    unmarked = [token.word for token in cut(marked.rest, _HOLDER_WORDS) if not token.is_number]
    if marked.version is not None and set(unmarked) <= _HOLDER_WORDS:
        return FolderKind.VERSION
    if _is_made_of(words, _HOLDER_WORDS, frozenset()) and (
        not set(words) <= _ONLY_QUALIFIES or any(token.is_number for token in cut(rest))
    ):
        return FolderKind.HOLDER
    return FolderKind.GROUP if names_only_a_role(text) else FolderKind.TITLE


def is_numbered(name: str) -> bool:
    """Whether the folder's name begins with a track number: "03 - Old", "10 Unused printed"."""
    text = compose(name)
    return without_track_number(text) != text


def says_no_song(name: str) -> bool:
    """Whether a folder is named for what an office or a computer keeps: "Artwork", "New Folder"."""
    words = [token.word for token in cut(compose(name)) if not token.is_number]
    return not words or set(words) <= _OFFICE_WORDS | _WITH_ARCHIVE | _HOLDER_WORDS | {"and"}


def could_be_a_title(name: str) -> bool:
    """Whether an archive's or a working folder's name is one bare word, as song titles are: "Demo", "Trash".

    "Old Stems", "Demo 2" and "Audio Files" say more than a title would; "Old" and "Backup" are what people
    call their archives.
    """
    tokens = cut(compose(name), _HOLDER_WORDS)
    return len(tokens) == 1 and not tokens[0].is_number and tokens[0].word not in _NEVER_TITLES


def holds_lossy_copies(name: str) -> bool:
    return bool({token.word for token in cut(compose(name), _HOLDER_WORDS)} & _LOSSY_WORDS)


def _is_made_of(words: list[str], needed: frozenset[str], allowed: frozenset[str]) -> bool:
    return bool(words) and bool(set(words) & needed) and set(words) <= needed | allowed
