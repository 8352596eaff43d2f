"""Pitch of a tapped strip on synthetic sounds."""

from __future__ import annotations

import numpy as np
import pytest

from calc.errors import InputError, ValidityError
from calc.sheet_test.pitch import fourier, fundamental

RATE = 44100


def tap(
    frequency: float,
    *,
    rng: np.random.Generator,
    decay: float = 0.15,
    noise: float = 0.05,
    partials: tuple[tuple[float, float], ...] = (),
    hum: float = 0.0,
    rate: int = RATE,
    seconds: float = 1.0,
) -> np.ndarray:
    """Make a decaying tone that starts after 0.1 s of noise."""
    time = np.arange(int(seconds * rate)) / rate - 0.1
    envelope = np.where(time >= 0.0, np.exp(-np.maximum(time, 0.0) / decay), 0.0)
    sound = envelope * np.sin(2.0 * np.pi * frequency * time + rng.uniform(0.0, 6.28))
    for ratio, size in partials:
        sound += (
            size
            * envelope**2
            * np.sin(2.0 * np.pi * frequency * ratio * time + rng.uniform(0.0, 6.28))
        )
    sound += hum * np.sin(2.0 * np.pi * 50.0 * time)
    return np.asarray(sound + noise * rng.standard_normal(time.size))


@pytest.mark.parametrize("noise", [0.02, 0.1, 0.33])
def test_pitch_lies_within_its_stated_error(noise: float) -> None:
    """Two standard errors hold at least 95 % of 60 random tones, and errors stay below 1 %."""
    rng = np.random.default_rng(20260303)
    off, errors = [], []
    for _ in range(60):
        frequency = float(np.exp(rng.uniform(np.log(60.0), np.log(900.0))))
        found = fundamental(
            tap(
                frequency,
                rng=rng,
                noise=noise,
                decay=rng.uniform(0.06, 0.3),
                partials=((2.7565, 0.5), (5.4039, 0.3)),
            ),
            sample_rate=RATE,
        )
        off.append(abs(found.frequency - frequency) / found.error)
        errors.append(found.error / frequency)
    assert np.mean(np.array(off) < 2.0) >= 0.95
    assert max(errors) < 0.01 if noise < 0.3 else np.median(errors) < 0.01


def test_decay_time_is_recovered() -> None:
    """The time constant of the envelope comes out within 5 %."""
    rng = np.random.default_rng(4)
    found = fundamental(tap(310.0, rng=rng, decay=0.2, noise=0.01), sample_rate=RATE)
    assert found.decay_time == pytest.approx(0.2, rel=0.05)


def test_louder_partial_is_stepped_down() -> None:
    """A second mode twice as loud is reported as a partial, not as the tone."""
    rng = np.random.default_rng(5)
    found = fundamental(tap(180.0, rng=rng, partials=((2.7565, 2.0),)), sample_rate=RATE)
    assert found.frequency == pytest.approx(180.0, rel=1e-3)
    assert found.partials[0] == pytest.approx(180.0 * 2.7565, rel=2e-2)
    assert "partial" in found.note


def test_clamped_strip_at_a_low_sample_rate() -> None:
    """A ruler-like pluck at 40 Hz with its second mode, sampled at 8 kHz."""
    rng = np.random.default_rng(6)
    sound = tap(40.0, rng=rng, decay=0.4, partials=((6.2669, 0.6),), rate=8000, seconds=1.5)
    found = fundamental(sound, sample_rate=8000.0, support="clamped")
    assert found.frequency == pytest.approx(40.0, rel=2e-3)


def test_mains_hum_beneath_the_tone_is_no_harm() -> None:
    """A 50 Hz hum a third as loud as the tap leaves the pitch alone."""
    rng = np.random.default_rng(7)
    found = fundamental(tap(333.0, rng=rng, hum=0.3), sample_rate=RATE)
    assert found.frequency == pytest.approx(333.0, rel=1e-3)


def test_hum_alone_is_called_a_hum() -> None:
    """A steady tone is answered with a warning that it does not die away."""
    rng = np.random.default_rng(8)
    time = np.arange(RATE) / RATE
    found = fundamental(
        np.sin(2.0 * np.pi * 50.0 * time) + 0.01 * rng.standard_normal(RATE), sample_rate=RATE
    )
    assert "does not die away" in found.note


def test_neighbouring_tone_widens_the_error() -> None:
    """A second tone a few per cent away is named and costs certainty."""
    rng = np.random.default_rng(9)
    clean = fundamental(tap(300.0, rng=rng), sample_rate=RATE)
    crowded = fundamental(tap(300.0, rng=rng) + tap(318.0, rng=rng) * 0.7, sample_rate=RATE)
    assert "close" in crowded.note
    assert crowded.error > 3.0 * clean.error


def test_noise_and_silence_give_no_tone() -> None:
    """Nothing is answered when nothing sounds."""
    rng = np.random.default_rng(10)
    with pytest.raises(ValidityError):
        fundamental(rng.standard_normal(RATE), sample_rate=RATE)
    with pytest.raises(ValidityError):
        fundamental(np.zeros(RATE), sample_rate=RATE)


@pytest.mark.parametrize(
    ("change", "name"),
    [
        ({"sample_rate": 0.0}, "sample_rate"),
        ({"low": 500.0, "high": 100.0}, "low"),
        ({"support": "glued"}, "support"),
    ],
)
def test_bad_input_is_named(change: dict[str, object], name: str) -> None:
    """Each wrong argument raises InputError under its own name."""
    arguments: dict[str, object] = {"sample_rate": RATE, **change}
    with pytest.raises(InputError) as caught:
        fundamental(np.ones(RATE), **arguments)  # type: ignore[arg-type]
    assert caught.value.name == name


def test_short_recording_is_refused() -> None:
    """Less than a tenth of a second cannot be measured."""
    with pytest.raises(InputError, match="samples"):
        fundamental(np.ones(100), sample_rate=RATE)


def test_transform_equals_numpy() -> None:
    """Our transform equals numpy's to rounding, real and complex."""
    rng = np.random.default_rng(11)
    for count in (1, 2, 8, 4096):
        x = rng.standard_normal(count) + 1j * rng.standard_normal(count)
        assert np.allclose(fourier(samples=x), np.fft.fft(x), atol=1e-10)
    with pytest.raises(InputError):
        fourier(samples=np.ones(3))
