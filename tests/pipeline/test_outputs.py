"""The sum of each output: which channels, at which gain; its true peak beside another way of finding it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
import soundfile

from audit.facts import Role
from audit.folder.walk import walk
from audit.pipeline.scan import scan_show
from audit.pipeline.settled import song_patch
from audit.pipeline.song.listen import listen
from audit.pipeline.song.outputs import OutputPlan, OutputSums, plan_outputs, plan_outputs_by_name
from audit.settings.model import CREW, Gain, Output, ShowSettings
from audit.settings.patch import Patch, gain_db, patch_of, routes
from tests.evidence import part, song, stem

RATE = 48_000


def line(out: tuple[int, ...], *stems: str, **more) -> Output:
    return Output(out=out, stems=stems, **more)


def test_every_line_that_fits_gets_the_stem():
    patch = Patch(outputs=(line((1, 2), "bass", "Bass*"), line((3,), "*"), line((4,), "drums")))
    found = routes(patch, "Bass.wav", ((Role.BASS, (0, 1)),))
    assert [route.line.out for route in found] == [(1, 2), (3,)]


def test_a_role_takes_its_channels_only_and_a_name_takes_all():
    parts = ((Role.CLICK, (0,)), (Role.TIMECODE, (1,)))
    patch = Patch(outputs=(line((3,), "click"), line((4,), "timecode"), line((5, 6), "PB*")))
    assert [(route.line.out, route.channels) for route in routes(patch, "PB.wav", parts)] == [
        ((3,), (0,)), ((4,), (1,)), ((5, 6), (0,)), ((5, 6), (1,)),
    ]  # fmt: skip


def test_lines_are_for_their_songs():
    settings = ShowSettings(
        source="x",
        outputs=(line((1,), "*", songs=("Night*",)), line((2,), "*")),
        gains=(Gain(gain_db=-6, songs=("A",)),),
    )
    assert patch_of(settings, ("Night Ferry",)).numbers == (1, 2)
    assert patch_of(settings, ("A",)).numbers == (2,)
    assert patch_of(settings, ("Night Ferry",)).gains == ()


def test_the_last_fader_counts():
    patch = Patch(
        gains=(Gain(gain_db=-3), Gain(gain_db=-6, stems=("bass",)), Gain(gain_db=2, stems=("Bass 2*",)))
    )
    assert [gain_db(patch, file, Role.BASS) for file in ("Bass.wav", "Bass 2.wav")] == [-6, 2]
    assert gain_db(patch, "Keys.wav", Role.KEYS) == -3
    assert gain_db(Patch(), "Keys.wav", Role.KEYS) == 0


@pytest.mark.parametrize(
    ("lines", "channels", "wanted"),
    [
        ((line((1, 2), "keys"),), 2, {1: 0.5, 2: 0.25}),
        ((line((1, 2), "keys"),), 1, {1: 0.5, 2: 0.5}),
        ((line((1,), "keys"),), 2, {1: 0.375}),  # the mean of both sides
        ((line((1,), "keys"),), 1, {1: 0.5}),
        ((line((1, 2), "keys"),), 4, {1: 0.625, 2: 0.3125}),
        ((line((1,), "keys", gain_db=-20.0),), 1, {1: 0.05}),
        ((line((1,), "keys"), line((1, 2), "Keys*")), 1, {1: 1.0, 2: 0.5}),
    ],
)
def test_what_comes_out_where(lines: tuple[Output, ...], channels: int, wanted: dict[int, float]):
    made = song("Night Ferry", stem("Keys.wav", channels=channels))
    plan = plan_outputs(Patch(outputs=lines), made.stems, RATE, ())
    assert plan == plan_outputs_by_name(
        Patch(outputs=lines), made.song, {"Keys.wav": made.stems[0].format}, RATE, ()
    )
    sums = OutputSums(plan)
    sums.add(
        "Keys.wav",
        np.ones((4800, 1), np.float32) * np.array([0.5, 0.25, 0.125, 0.0625], np.float32)[:channels],
    )
    sums.add("Other.wav", np.ones((4800, 1), np.float32))
    sums.step()
    found = {out.output: 10 ** (out.peaks.sample_dbfs / 20) for out in sums.result()}
    assert found == pytest.approx(wanted, rel=1e-5)


def test_stems_at_another_rate_and_those_left_out_stay_away():
    made = song("Night Ferry", stem("Keys.wav"), stem("Bass.wav", rate_hz=44_100), stem("Pad.wav"))
    plan = plan_outputs(Patch(outputs=(line((1, 2), "*"),)), made.stems, RATE, ("Pad.wav",))
    assert set(plan.weights) == {"Keys.wav"}


@pytest.mark.parametrize("sizes", [(4800,), (1, 4799), (1000, 1000, 2800)])
def test_the_true_peak_of_a_sum_is_that_of_polyphase_interpolation(sizes: tuple[int, ...]):
    """Second implementation: scipy's resample_poly at 16x over the sum made with numpy."""
    rng = np.random.default_rng(7)
    low = scipy.signal.butter(6, 12_000, fs=RATE, output="sos")
    stems = {
        name: scipy.signal.sosfilt(low, rng.normal(0, 0.2, (4800, 2)), axis=0).astype(np.float32)
        for name in "ab"
    }
    plan = OutputPlan(
        sample_rate_hz=RATE,
        numbers=(1, 2),
        weights={"a": ((0, 0, 1.0), (1, 1, 1.0)), "b": ((0, 0, 0.5), (1, 1, 0.5))},
    )
    sums = OutputSums(plan)
    at = 0
    for size in sizes:
        for name, samples in stems.items():
            sums.add(name, samples[at : at + size])
        sums.step()
        at += size
    for place, out in enumerate(sums.result()):
        whole = stems["a"][:, place] + 0.5 * stems["b"][:, place]
        fine = scipy.signal.resample_poly(np.pad(whole, 200).astype(float), 16, 1)
        assert out.peaks.true_dbtp == pytest.approx(20 * np.log10(np.abs(fine).max()), abs=0.05)
        assert out.from_stems == ("a", "b")


def write(
    path: Path, level: float, *, channels: int = 2, freq_hz: float = 220.0, seconds: float = 2.0
) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    wave = level * np.sin(2 * np.pi * freq_hz * np.arange(int(seconds * RATE)) / RATE)
    soundfile.write(path, np.tile(wave[:, None], (1, channels)), RATE, "PCM_24")


PATCH = ShowSettings(
    source="show.toml",
    outputs=(line((1, 2), "bass", "keys"), line((3,), "guide", heard_by=CREW)),
    gains=(Gain(gain_db=-6.0206, stems=("guide",)),),
)


def test_a_song_is_summed_in_its_one_pass(tmp_path: Path):
    write(tmp_path / "Night Ferry" / "Bass.wav", 0.5)
    write(tmp_path / "Night Ferry" / "Keys.wav", 0.75, channels=1)
    write(tmp_path / "Night Ferry" / "Guide.wav", 0.5, freq_hz=330.0)
    (walked,) = walk(tmp_path).songs
    heard = listen(walked, lambda name, done: None, patch=song_patch(walked, PATCH))
    assert heard.outputs is not None
    assert {out.output: round(10 ** (out.peaks.sample_dbfs / 20), 3) for out in heard.outputs} == {
        1: 1.25, 2: 1.25, 3: 0.25,
    }  # fmt: skip
    assert heard.mix == listen(walked, lambda name, done: None).mix
    assert listen(walked, lambda name, done: None).outputs is None


def test_an_overload_is_told_by_a_scan_and_gone_at_another_gain(tmp_path: Path):
    write(tmp_path / "Night Ferry" / "Bass.wav", 0.5)
    write(tmp_path / "Night Ferry" / "Keys.wav", 0.75, channels=1)
    audit = scan_show(tmp_path, jobs=1, settings=PATCH)
    (found,) = [f for f in audit.all_findings() if f.rule == "output-overload"]
    assert found.value == pytest.approx(20 * np.log10(1.25), abs=0.05)
    softer = replace(PATCH, gains=(Gain(gain_db=-3.0),))
    assert not [
        f for f in scan_show(tmp_path, jobs=1, settings=softer).all_findings() if f.rule == "output-overload"
    ]


def test_roles_told_by_sound_are_routed_by_what_they_are():
    """By its name a file without a role is `other`; heard, its second channel is timecode."""
    made = song(
        "Night Ferry",
        stem("X.wav", parts=[part(Role.OTHER, channels=(0,)), part(Role.TIMECODE, channels=(1,))]),
    )
    patch = Patch(outputs=(line((1,), "other"), line((2,), "timecode", heard_by=CREW)))
    by_name = plan_outputs_by_name(patch, made.song, {"X.wav": made.stems[0].format}, RATE, ())
    assert by_name.weights == {"X.wav": ((0, 0, 0.5), (1, 0, 0.5))}
    assert plan_outputs(patch, made.stems, RATE, ()).weights == {"X.wav": ((0, 0, 1.0), (1, 1, 1.0))}
