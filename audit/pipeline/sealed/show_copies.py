"""One of two copies of a show that are laid against each other: a folder, or a seal."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, partial

from audit.cache.identity import hash_file
from audit.cache.keys import absent
from audit.facts import CREW_ROLES, Role, Show, Stem, StemFormat
from audit.measure.samples import Samples
from audit.measure.sketch_fit import AtHand
from audit.pipeline.sealed.sketching import Sketched, fingerprint_file, read_frames, sketch_file
from audit.pipeline.song.click_bar import click_bar_s
from audit.results import Sketch
from audit.seal.model import Seal, SealedStem
from audit.seal.names import exact, path_of


@dataclass(frozen=True, kw_only=True)
class Copy:
    """One stem of one copy. What has to be read for is read when it is asked for, and once."""

    path: str  # from the show's folder, "/" between parts
    song: str
    stem: str
    bar_of_song: Callable[[], float | None] = lambda: None
    sealed: SealedStem | None = None
    file: Stem | None = None  # on disk; one of the two is there

    @property
    def folder(self) -> str:
        """The song's folder, "" where the show is one song."""
        return self.path.removesuffix(self.stem).rstrip("/")

    @property
    def is_music(self) -> bool:
        """Neither click nor timecode, which sound alike in many songs."""
        role = Role(self.sealed.role) if self.sealed is not None else self._stem.role
        return role not in CREW_ROLES

    @property
    def size_bytes(self) -> int:
        return self.sealed.size_bytes if self.sealed else self._stem.size_bytes

    @property
    def modified_ns(self) -> int:
        return self.sealed.modified_ns if self.sealed else self._stem.modified_ns

    @property
    def why_unread(self) -> str | None:
        """Why nothing can be said of its content; None where it can be read."""
        if self.sealed is not None:
            return (
                None if self.sealed.file_hash else (self.sealed.failure or "it could not be read when sealed")
            )
        if absent(self._stem) is not None:
            return "its bytes are not on this disk"
        return None if self.file_hash else "it cannot be read; check who may"

    @cached_property
    def file_hash(self) -> str | None:
        if self.sealed is not None:
            return self.sealed.file_hash
        if absent(self._stem) is not None:
            return None
        try:
            return hash_file(self._stem.path)
        except (OSError, ValueError):
            return None

    @cached_property
    def _sketched(self) -> Sketched:
        if self.sealed is not None:
            sealed = self.sealed
            return Sketched(
                format=sealed.format,
                audio_hash=sealed.audio_hash,
                sketch=sealed.sketch,
                failure=sealed.failure,
            )
        return sketch_file(self._stem.path)

    @property
    def format(self) -> StemFormat | None:
        return self._sketched.format

    @property
    def sketch(self) -> Sketch | None:
        return self._sketched.sketch

    @property
    def broken_off(self) -> bool:
        return self._sketched.broken_off

    @property
    def damaged(self) -> str | None:
        """What its container tells of damage inside: a checksum that fails, a block that does not decode."""
        return self._sketched.damaged

    @property
    def failure(self) -> str | None:
        return self._sketched.failure

    @property
    def audio(self) -> tuple[object, ...] | None:
        """What tells equal audio from other; None where nothing can be decoded."""
        sketched = self._sketched
        if sketched.sketch is None:
            return None
        shape = sketched.sketch
        return sketched.audio_hash, shape.frames, shape.channels, shape.rate_hz

    @cached_property
    def fingerprint(self) -> bytes:
        return self.sealed.fingerprint if self.sealed is not None else fingerprint_file(self._stem.path)

    @property
    def bar_s(self) -> float | None:
        """Length of a bar by the song's click, where that is steady."""
        return self.bar_of_song()

    @property
    def at_hand(self) -> AtHand | None:
        """Itself, where it can be read again."""
        return self if self.sealed is None else None

    def sketch_from(self, first_frame: int) -> Sketch:
        """Its sketch on a grid that begins elsewhere; only where it is on disk."""
        if first_frame not in self._grids:
            made = sketch_file(self._stem.path, first_frame=first_frame).sketch
            assert made is not None
            self._grids[first_frame] = made
        return self._grids[first_frame]

    def samples_at(self, frames: Sequence[int]) -> Samples:
        """Its samples at these frames, ascending, shape (frames, channels); only where it is on disk."""
        return read_frames(self._stem.path, frames)

    def chunk(self, first_frame: int, frames: int) -> Samples:
        """A piece of it, shape (frames, channels), silence behind its end; only where it is on disk."""
        return read_frames(self._stem.path, [first_frame], frames)[:frames]

    @cached_property
    def _grids(self) -> dict[int, Sketch]:
        return {}

    @property
    def _stem(self) -> Stem:
        assert self.file is not None
        return self.file


def copies_of_seal(seal: Seal, songs: frozenset[str] | None = None) -> Iterator[Copy]:
    """Every stem of the seal; songs: only of these folders."""
    for song in seal.songs:
        if songs is None or song.folder in songs:
            for stem in song.stems:
                yield Copy(
                    path=stem.path, song=song.name, stem=stem.file, sealed=stem,
                    bar_of_song=partial(_known, song.bar_s),
                )  # fmt: skip


def _known(bar_s: float | None) -> float | None:
    return bar_s


def copies_of_folder(show: Show) -> Iterator[Copy]:
    """Every stem that a scan of the folder would hear."""
    for song in show.songs:
        bar_of_song = cache(partial(click_bar_s, song))
        for stem in song.stems:
            yield Copy(
                path=path_of(song.folder, stem.file), song=song.name, stem=exact(stem.file), file=stem,
                bar_of_song=bar_of_song,
            )  # fmt: skip
