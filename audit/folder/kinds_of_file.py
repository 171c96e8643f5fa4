"""What a file is by its name: audio, the system's litter, or something that somebody left there.

No file is opened to find out. A file that has an audio extension is a stem even if nothing can decode it:
the decoder reports that. A file without one is passed over, whatever its content.
"""

from __future__ import annotations

import re
from dataclasses import dataclass


def _words(text: str) -> frozenset[str]:
    return frozenset(text.split())


AUDIO_EXTENSIONS = _words("wav wave bwf rf64 w64 aif aiff aifc caf flac ogg oga opus mp3 m4a aac wma")

ARCHIVE = "an archive; unpack it to have its content audited"
_KINDS = {
    "a document": (
        "pdf doc docx odt rtf txt md pages xls xlsx ods csv numbers ppt pptx key html htm json xml yaml toml"
    ),
    "a picture": "jpg jpeg png gif bmp tif tiff webp heic svg psd ai",
    "a video": "mp4 mov avi mkv m4v webm",
    "a session file of a recording or playback program": (
        "ptx ptf pts als alc alp logic logicx band rpp cpr npr flp song aup aup3 reason ardour omf aaf sesx "
        "mmp dawproject"
    ),
    "a MIDI file": "mid midi smf kar",
    "sheet music": "mscz mscx sib musx mus xmlmusic musicxml mxl",
    ARCHIVE: "zip rar 7z tar gz bz2 xz dmg",
    "a playlist": "m3u m3u8 pls xspf cue",
    "an unfinished download or copy": "part partial crdownload download opdownload filepart tmp temp !ut bc!",
}
_REASON_OF = {ext: reason for reason, exts in _KINDS.items() for ext in exts.split()}

# Overviews that editors write beside audio; common practice, by their file extensions.
_OVERVIEWS = _words("asd pkf pek peak peaks reapeaks reapindex sfk sfap0 wfm ovw gpk wov mrk")
_PACKAGES = _words("logicx band app bundle photoslibrary fcpbundle rtfd pages numbers key")
_LITTER = {
    ".ds_store": "a file of macOS (folder view)",
    "thumbs.db": "a file of Windows (thumbnails)",
    "ehthumbs.db": "a file of Windows (thumbnails)",
    "desktop.ini": "a file of Windows (folder view)",
    "icon\r": "a file of macOS (folder icon)",
    "__macosx": "metadata of macOS, left by unpacking an archive",
    "$recycle.bin": "the recycle bin of Windows",
    "system volume information": "a folder of Windows",
    "lost+found": "a folder of the file system",
    "@eadir": "a network drive's index",
    "#recycle": "a network drive's recycle bin",
    "#snapshot": "a network drive's snapshots",
}
_APPLE_DOUBLE = "metadata of macOS (AppleDouble), not audio"
_CLOUD_PLACEHOLDER = ".icloud"
# What programs that fetch or copy put behind a name until the file is whole (common practice).
_UNFINISHED = _words("part partial crdownload download opdownload filepart tmp temp !ut bc!")
# ".Bass.wav.a8K2xQ": where rsync collects a file; its manual, "--temp-dir" and "--partial".
_COLLECTED = re.compile(r"^\.(?P<name>.+)\.[A-Za-z0-9]{6}$")


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something is passed over, and whether somebody left it there."""

    text: str
    stray: bool = False
    unread: bool = False  # it should have been audited and could not be
    packed: bool = False  # an archive: stems may be in it, and a song that came so is not there yet


def split_extension(name: str) -> tuple[str, str]:
    """The name without its extension, and the extension in small letters without its dot."""
    stem, dot, extension = name.rpartition(".")
    return (stem, extension.lower()) if dot and stem else (name, "")


def is_audio(name: str) -> bool:
    return split_extension(name)[1] in AUDIO_EXTENSIONS


def awaited_name(name: str) -> str | None:
    """The name of the file whose cloud placeholder this is: ".Bass.wav.icloud" stands for "Bass.wav"."""
    if name.startswith(".") and not name.startswith("._") and name.lower().endswith(_CLOUD_PLACEHOLDER):
        return name[1 : -len(_CLOUD_PLACEHOLDER)] or None
    return None


def unfinished_name(name: str) -> str | None:
    """The name of the audio file that a download or copy will have when it is done: "Bass.wav.part".

    "Bass.wav~" counts too: whatever wrote it, "Bass.wav" has yet to come. None where nothing is awaited.
    """
    stem, extension = split_extension(name)
    collected = _COLLECTED.match(name)
    if collected and not name.startswith("._"):
        stem = collected["name"]
    elif name.endswith("~"):
        stem = name.rstrip("~")
    elif extension not in _UNFINISHED:
        return None
    return stem if is_audio(stem) else None


UNFINISHED = Reason(
    "an unfinished download or copy; let it finish, or fetch the file again, then scan again", unread=True
)


def litter(name: str) -> Reason | None:
    """Why a file or folder of this name is nobody's content; None where it may be somebody's."""
    if name.startswith("._"):
        return Reason(_APPLE_DOUBLE)
    known = _LITTER.get(name.lower())
    if known:
        return Reason(known)
    return Reason("hidden") if name.startswith(".") else None


def package(name: str) -> Reason | None:
    """Why a folder is passed over that a program shows as one file; None for an ordinary folder."""
    extension = split_extension(name)[1]
    if extension not in _PACKAGES:
        return None
    return Reason(_REASON_OF.get(extension, "a program's package"), stray=True)


SEAL = "show.seal"
"""The file that `stemaudit seal` leaves in a show's folder."""


def not_audio(name: str) -> Reason:
    """Why a file without an audio extension is passed over."""
    extension = split_extension(name)[1]
    if name == SEAL:
        return Reason("the show's seal")
    if extension in _OVERVIEWS:
        return Reason("an overview that an editor keeps beside its audio")
    if not extension:
        return Reason("no extension that says it is audio; files are not opened to find out", stray=True)
    reason = _REASON_OF.get(extension, "not audio by its extension; files are not opened to find out")
    return Reason(reason, stray=True, packed=reason == ARCHIVE)
