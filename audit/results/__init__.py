"""Every measurement's dataclass. Plain Python; −inf for silence, None for "does not exist"."""

from audit.results.alignment import (
    Against,
    Alignment,
    Beats,
    Drift,
    Phase,
    Rearranged,
    WrongRate,
)
from audit.results.click import (
    ClickChange,
    ClickExtra,
    ClickGap,
    ClickPause,
    ClickRun,
    ClickTrack,
    Leak,
)
from audit.results.container import (
    Cause,
    ContainerFault,
    FaultKind,
)
from audit.results.damage import (
    Damage,
    Hole,
    Repeat,
    SpliceClick,
)
from audit.results.excerpt import (
    Excerpt,
    Place,
    Sound,
    Trace,
)
from audit.results.music import (
    Chroma,
    Fingerprint,
    Head,
    Onsets,
)
from audit.results.origin import (
    Ceiling,
    Nature,
    Reading,
    Scrambled,
)
from audit.results.part import (
    PartMeasures,
    StemMeasures,
)
from audit.results.sound import (
    Activity,
    Clipping,
    Envelope,
    FlatTops,
    Levels,
    Loudness,
    Peaks,
    SideDelay,
    Stereo,
)
from audit.results.timecode import (
    JumpKind,
    TimecodeJump,
    TimecodeRun,
    TimecodeTrack,
)
from audit.results.together import (
    CommonSource,
    Elsewhere,
    KeyFit,
    MixMeasures,
    OutputSum,
    PartsFit,
    RhythmFit,
    SameAudio,
)

__all__ = [
    "Activity",
    "Against",
    "Alignment",
    "Beats",
    "Cause",
    "Ceiling",
    "Chroma",
    "ClickChange",
    "ClickExtra",
    "ClickGap",
    "ClickPause",
    "ClickRun",
    "ClickTrack",
    "Clipping",
    "CommonSource",
    "ContainerFault",
    "Damage",
    "Drift",
    "Elsewhere",
    "Envelope",
    "Excerpt",
    "FaultKind",
    "Fingerprint",
    "FlatTops",
    "Head",
    "Hole",
    "JumpKind",
    "KeyFit",
    "Leak",
    "Levels",
    "Loudness",
    "MixMeasures",
    "Nature",
    "Onsets",
    "OutputSum",
    "PartMeasures",
    "PartsFit",
    "Peaks",
    "Phase",
    "Place",
    "Reading",
    "Rearranged",
    "Repeat",
    "RhythmFit",
    "SameAudio",
    "Scrambled",
    "SideDelay",
    "Sound",
    "SpliceClick",
    "StemMeasures",
    "Stereo",
    "TimecodeJump",
    "TimecodeRun",
    "TimecodeTrack",
    "Trace",
    "WrongRate",
]
