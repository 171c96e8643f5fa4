"""`stemaudit hear`: a short, soft WAV around a place in a stem."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from audit.cli.screen import interruptible, say
from audit.errors import UsageError
from audit.folder.clips import CLIPS_FOLDER

if TYPE_CHECKING:
    from audit.hear.clip import Clip

CAUTION = (
    "Caution: set the monitor or the in-ears low before you play it, then come up slowly. A file's level "
    "says nothing of the sound pressure at an ear; local hearing rules and qualified crew decide."
)


def hear(
    stem: Annotated[Path, typer.Argument(metavar="STEM", help="A stem's file: SHOW/SONG/Bass.wav.")],
    at: Annotated[
        str | None,
        typer.Option("--at", metavar="TIME", help="The place: 1:23.456 as in the report, or seconds."),
    ] = None,
    sample: Annotated[
        str | None, typer.Option("--sample", metavar="N", help="The place as the number of a sample, from 0.")
    ] = None,
    out: Annotated[
        Path, typer.Option("--out", metavar="DIR", help="Where the clip is written; never in the show.")
    ] = Path(CLIPS_FOLDER),
    channel: Annotated[
        int | None, typer.Option("--channel", metavar="N", help="Only this channel, counted from 1.")
    ] = None,
) -> None:
    """Write a short, soft clip of a stem around a place, to hear what is wrong there.

    The clip lasts eight seconds. Four soft beeps, a second apart, count to the place, which is always at
    second 4. It is only ever turned down: peaks stay under -12 dBFS, click, guide and timecode under -24,
    full-scale noise under -40, and both ends fade. The stem is not changed, and nothing is written into its
    show.

    \b
    Examples:
      stemaudit hear "Harbour Lights Tour/Slow Weather/Bass.wav" --at 1:23.456
      stemaudit hear Bass.wav --sample 4005888 --out /tmp/clips

    \b
    Exit codes:
      0    written
      2    wrong arguments, or no such place
      3    the stem cannot be read as far as that place
      130  interrupted
    """
    if not stem.is_file():
        what = "a folder: name one of its stems" if stem.is_dir() else "there is no such file: give a stem"
        raise UsageError(f"{stem}: {what}, as SHOW/SONG/Bass.wav")
    with interruptible("nothing was written."):
        from audit.hear.clip import cut_clip
        from audit.hear.place import check_one_place, read_place
        from audit.hear.shelf import check_folder, clip_name, write_clip

        check_one_place(at, sample)
        check_folder(out, stem)
        clip = cut_clip(stem, lambda rate_hz: read_place(at, sample, rate_hz), channel=channel)
        path = write_clip(clip, out, clip_name(stem, clip.place_frame / clip.rate_hz, clip))
    say("\n".join(_words(stem, path, clip)))


def _words(stem: Path, path: Path, clip: Clip) -> list[str]:
    from audit.report.words import signed
    from audit.units import clock

    where = clock(clip.place_frame / clip.rate_hz)
    lines = [
        f"Written: {path}",
        f"{stem.name} at {where} (sample {clip.place_frame}) is at second {clip.place_s:g} of the clip: four "
        "soft beeps count to it.",
    ]
    if clip.taken:
        lines.append(f"It holds {clip.taken}.")
    if clip.down_db:
        lines.append(
            f"Turned down by {clip.down_db:.1f} dB, to peaks of {signed(clip.caps.peak_db, 0)} dBFS at most: "
            f"{clip.caps.why}."
        )
    return [*lines, CAUTION]
