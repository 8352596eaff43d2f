"""Pitch of a tapped or plucked strip from recorded sound samples.

Works with plain array arithmetic: the Fourier transform is written out here because the browser's
trimmed numpy carries no `numpy.fft`.

Not modelled: which mode of which part is sounding.  Support the strip at its nodes (0.224 of its
length from each end), tap the middle, keep the sheet it was cut from out of the way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from calc.errors import InputError, ValidityError

Array = NDArray[np.float64]

# Squares of the eigenvalue ratios, second and third bending mode over the first; Blevins,
# Formulas for Natural Frequency and Mode Shape (1979), Table 8-1.
_PARTIALS = {"free": (2.7565, 5.4039), "clamped": (6.2669, 17.5475)}

# Sample clocks of phones and sound cards are good to about this share; common practice.
_CLOCK_ERROR = 1e-4
MIN_SAMPLE_RATE = 2000.0
"""Lowest sample rate accepted [Hz]."""
MIN_RINGING = 0.03
"""Shortest ringing that can be measured [s]."""
PARTIAL_TOLERANCE = 0.04
"""Deviation from the theoretical ratio up to which a tone is a partial of another."""
CLOSE_TONE = 0.12
"""Distance of another tone, as a share of the frequency, up to which it disturbs."""
LONGEST_DECAY = 5.0
"""Longest decay time of a strip [s]."""
LARGEST_CHANGE = 0.01
"""Largest change of pitch without a note, as a share of the frequency."""
_MAX_SAMPLES = 1 << 17


@dataclass(frozen=True)
class TonePitch:
    """The lowest bending tone found in a recording.

    Parameters
    ----------
    frequency, error
        [Hz] and its standard error.
    decay_time
        Time in which the amplitude falls to 1/e [s].
    signal_to_noise
        Height of the spectral peak over the noise around it [-], amplitude ratio.
    partials
        Other peaks found [Hz], strongest first.
    note
        Doubts about the result, in words; may be empty.
    """

    frequency: float
    error: float
    decay_time: float
    signal_to_noise: float
    partials: tuple[float, ...]
    note: str


def fourier(*, samples: ArrayLike) -> NDArray[np.complex128]:
    """Compute the discrete Fourier transform of a power of two of samples.

    Parameters
    ----------
    samples
        (N,) real or complex, N a power of two.

    Returns
    -------
    Array
        X (N,).

    Raises
    ------
    InputError
        If the number of samples is not a power of two.

    Notes
    -----
    Equation: X_k = sum over n of x_n exp(-2 pi i k n / N), by splitting even and odd samples, all
    blocks at once.

    References
    ----------
    Cooley & Tukey, Math. Comp. 19 (1965) 297.

    Examples
    --------
    >>> [round(abs(x), 6) for x in fourier(samples=[1.0, 0.0, -1.0, 0.0]).tolist()]
    [0.0, 2.0, 0.0, 2.0]
    """
    x = np.asarray(samples, dtype=complex)
    count = x.size
    if count == 0 or count & (count - 1):
        raise InputError("samples", count, "a number of samples that is a power of two")
    # Column j holds the samples j, j + m, j + 2 m ...; each pass joins two columns into one
    # of twice the height.
    table = x.reshape(1, count)
    while table.shape[1] > 1:
        half = table.shape[1] // 2
        height = table.shape[0]
        even, odd = table[:, :half], table[:, half:]
        turn = np.exp(-1j * np.pi * np.arange(height) / height)[:, None]
        table = np.concatenate([even + turn * odd, even - turn * odd])
    return table[:, 0]


def _ringing(sound: Array, rate: float) -> Array:
    """Return the part of the recording in which the strip rings after the loudest tap."""
    block = max(int(0.005 * rate), 1)
    whole = sound[: sound.size // block * block].reshape(-1, block)
    power = (whole**2).mean(axis=1)
    # The first of the loudest, so that nothing of a steady hum is cut off.
    loudest = int(np.argmax(power >= 0.8 * power.max()))
    # The tap itself holds every frequency: skip the two blocks it may touch.
    start = loudest + 2
    smooth = np.convolve(power, np.ones(5) / 5.0, mode="same")
    quiet = float(np.quantile(smooth, 0.2))
    over = np.flatnonzero(smooth[start:-2] < 1.5 * quiet)
    steady = quiet > 0.5 * smooth[loudest]
    last = power.size if steady or not over.size else max(start + int(over[0]), start + 30)
    return sound[start * block : last * block]


def _peaks(level: Array, floor: Array, first: int, last: int) -> list[int]:
    """Return the local maxima above six times the noise and 3 % of the highest, highest first."""
    inner = level[first:last]
    rises = (inner > level[first - 1 : last - 1]) & (inner >= level[first + 1 : last + 1])
    strong = (inner > 6.0 * floor[first:last]) & (inner > 0.03 * inner.max())
    places = np.flatnonzero(rises & strong) + first
    return [int(p) for p in places[np.argsort(-level[places])]]


def fundamental(
    samples: ArrayLike,
    *,
    sample_rate: float,
    low: float = 20.0,
    high: float = 3000.0,
    support: Literal["free", "clamped"] = "free",
) -> TonePitch:
    """Compute the lowest bending tone of a tapped strip and its uncertainty.

    Parameters
    ----------
    samples
        Sound pressure, any unit, one channel; one tap, at best 0.3 to 2 s.
    sample_rate
        [Hz], at least `MIN_SAMPLE_RATE`.
    low, high
        Range to search [Hz].
    support
        Sets the ratios of the partials, used to step down when a partial is the loudest.

    Returns
    -------
    TonePitch
        Its error combines the scatter of the phase about its line, half the change of pitch
        between the first and second half of the ringing, and that of the sample clock.

    Raises
    ------
    InputError
        If an input is impossible.
    ValidityError
        If no tone is found, or it is too short to measure.

    Notes
    -----
    A peak of the spectrum is refined by a parabola through the logarithms of three lines. The
    sound is then shifted down by that frequency and averaged in blocks; the drift of its phase
    over time gives the rest: f = f0 + (dphase/dt) / (2 pi).

    References
    ----------
    Parabola through log-magnitudes: e.g. Gasior & Gonzalez, CERN AB-Note-2004-021 (from memory,
    unverified). Frequency from phase slope: Tretter, IEEE Trans. Inf. Theory 31 (1985) 832 (from
    memory, unverified).
    """
    sound = _checked(samples, sample_rate, low, high, support)
    ring = _ringing(sound, sample_rate)
    if ring.size < MIN_RINGING * sample_rate:
        raise ValidityError("the tone dies out too fast to measure; support the strip at its nodes")
    ring = ring[:_MAX_SAMPLES]
    level, spacing = _spectrum(ring, sample_rate)
    first, last = max(int(low / spacing), 1), min(int(high / spacing) + 1, level.size - 1)
    floor = _noise_floor(level, first, last, span=max(int(200.0 / spacing), 32))
    peaks = _peaks(level, floor, first, last)
    if not peaks:
        raise ValidityError("no tone stands clear of the noise; tap again, closer and in quiet")
    frequencies = [_refined(level, place) * spacing for place in peaks]
    chosen = _lowest(frequencies, support)
    start = frequencies[chosen]
    frequency, error, decay, change = _track(ring, sample_rate, start)
    notes = []
    if chosen:
        notes.append("The loudest tone is a partial; the tone below it was taken.")
    resolution = 2.0 * sample_rate / ring.size
    reach = max(CLOSE_TONE * start, 20.0)
    close = [f for f in frequencies if 0.5 * resolution < abs(f - frequency) < reach]
    if close:
        notes.append(f"Another tone lies close, at {close[0]:.0f} Hz; damp it or support anew.")
        error = math.hypot(error, 0.25 * resolution)
    if not 0.0 < decay < LONGEST_DECAY:
        notes.append("The tone does not die away: a hum rather than the strip?")
    if change > LARGEST_CHANGE * frequency:
        notes.append("The pitch changes while it rings; tap more softly.")
    return TonePitch(
        frequency=frequency,
        error=math.hypot(error, _CLOCK_ERROR * frequency),
        decay_time=decay,
        signal_to_noise=float(level[peaks[chosen]] / floor[peaks[chosen]]),
        partials=tuple(f for i, f in enumerate(frequencies) if i != chosen)[:4],
        note=" ".join(notes),
    )


def _checked(
    samples: ArrayLike, sample_rate: float, low: float, high: float, support: str
) -> Array:
    """Return the samples (n,) without their mean; raise if an input of `fundamental` is bad."""
    sound = np.asarray(samples, dtype=float).ravel()
    if support not in _PARTIALS:
        raise InputError("support", support, '"free" or "clamped"')
    if not (math.isfinite(sample_rate) and sample_rate >= MIN_SAMPLE_RATE):
        raise InputError(
            "sample_rate", sample_rate, f"samples per second, at least {MIN_SAMPLE_RATE:.0f}"
        )
    if not 0.0 < low < high < sample_rate / 2.0:
        raise InputError("low", low, "limits above zero, in order, below half the sample rate")
    if sound.size < 0.1 * sample_rate or not np.all(np.isfinite(sound)):
        raise InputError("samples", sound.size, "at least a tenth of a second of finite samples")
    sound = sound - sound.mean()
    if not np.any(sound):
        raise ValidityError("the recording is silent")
    return np.asarray(sound)


def _spectrum(ring: Array, rate: float) -> tuple[Array, float]:
    """Return the amplitude spectrum (n,) of the ringing, and the spacing of its lines [Hz]."""
    count = 1 << max((2 * ring.size - 1).bit_length(), 12)
    # Loud at the start, silent at the end: a window that opens fast and closes slowly.
    place = (np.arange(ring.size) + 0.5) / ring.size
    window = np.cos(np.pi * place / 2.0) ** 2 * np.minimum(place / 0.1, 1.0)
    padded = np.zeros(count)
    padded[: ring.size] = (ring - ring.mean()) * window
    return np.abs(fourier(samples=padded)[: count // 2]), rate / count


def _noise_floor(level: Array, first: int, last: int, *, span: int) -> Array:
    """Return the noise around each line (n,): the median over `span` lines.

    A few peaks do not change the median of a wide neighbourhood.
    """
    edges = np.arange(first, last, span)
    medians = np.array([np.median(level[e : min(e + span, last)]) for e in edges])
    centres = np.minimum(edges + span / 2.0, last)
    return np.interp(np.arange(level.size), centres, medians)


def _refined(level: Array, place: int) -> float:
    """Return the place of a peak between the lines, by a parabola through three logarithms."""
    left, middle, right = np.log(level[place - 1 : place + 2] + 1e-300)
    curve = left - 2.0 * middle + right
    shift = 0.5 * (left - right) / curve if curve < 0.0 else 0.0
    return float(place + shift)


def _lowest(frequencies: list[float], support: str) -> int:
    """Return the index of the fundamental: the tone of which the loudest, the first, is a partial.

    That is the first itself if there is no such tone.
    """
    for ratio in _PARTIALS[support]:
        for index, frequency in enumerate(frequencies):
            if abs(frequency * ratio / frequencies[0] - 1.0) < PARTIAL_TOLERANCE:
                return index
    return 0


def _track(ring: Array, rate: float, start: float) -> tuple[float, float, float, float]:
    """Return frequency, its error, decay time and change of pitch from the phase of one tone.

    Blocks contain a whole number of periods where possible, so that the mirrored tone at minus the
    frequency averages out.
    """
    periods = max(round(0.004 * start), 2)
    block = max(round(periods * rate / start), 2)
    half = block // 2
    begins = np.arange(0, ring.size - block + 1, half)
    if begins.size < 7:
        raise ValidityError("too few periods of the tone were recorded")
    time = (np.arange(ring.size) + 0.5) / rate
    turned = ring * np.exp(-2j * np.pi * start * time)
    # Blocks overlap by half with a smooth weight: neighbours stay connected, other tones fade.
    shape = np.sin(np.pi * (np.arange(block) + 0.5) / block) ** 2
    sums = turned[begins[:, None] + np.arange(block)] @ shape
    when = begins / rate
    size = np.abs(sums)
    # Keep the stretch that rises clear of the quietest part.
    keep = size > 0.05 * size.max()
    end = int(np.argmin(keep)) if not keep.all() else sums.size
    end = max(end, min(6, sums.size))
    sums, when, size = sums[:end], when[:end], size[:end]

    def line(t: Array, y: Array, w: Array) -> tuple[float, float, Array]:
        middle = float(np.sum(w * t) / np.sum(w))
        spread = float(np.sum(w * (t - middle) ** 2))
        slope = float(np.sum(w * (t - middle) * y) / spread)
        rest = y - np.sum(w * y) / np.sum(w) - slope * (t - middle)
        # Half-overlapping blocks share noise: about half as many independent points.
        freedom = max(t.size / 2.0 - 2.0, 1.0)
        variance = float(np.sum(w * rest**2) / np.sum(w)) * t.size / freedom
        effective = float(np.sum(w) ** 2 / np.sum(w**2)) / 2.0
        return slope, math.sqrt(variance * float(np.sum(w)) / spread / max(effective, 1.0)), rest

    weights = size**2
    phase = np.unwrap(np.angle(sums))
    slope, sd, _ = line(when, phase, weights)
    decay_rate, _, _ = line(when, np.log(size + 1e-300), weights)
    frequency = start + slope / (2.0 * np.pi)
    error = sd / (2.0 * np.pi)
    change = 0.0
    if sums.size >= 12:
        cut = sums.size // 2
        early, early_sd, _ = line(when[:cut], phase[:cut], weights[:cut])
        late, late_sd, _ = line(when[cut:], phase[cut:], weights[cut:])
        change = abs(early - late) / (2.0 * np.pi)
        # Only a change beyond its own noise counts as a change of pitch.
        change = max(change - 2.0 * math.hypot(early_sd, late_sd) / (2.0 * np.pi), 0.0)
        error = math.hypot(error, change / 2.0)
    decay = -1.0 / decay_rate if decay_rate < 0.0 else math.inf
    return frequency, error, decay, change
