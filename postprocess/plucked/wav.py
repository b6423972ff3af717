"""Signals as sound files: one loudness for all, so that the balance of the strings can be heard.

What a full scale stands for is told, so that a file can be read as volts.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from stringflux.geometry.arrays import Array

PEAK = 10 ** (-3 / 20)
"""Level of the loudest sample of all files together, of full scale (−3 dB)."""
FADE = 0.05
"""The end of each file fades out in so many seconds, or it would click."""


def full_scale(signals: Mapping[str, Array]) -> float:
    """What a sample of ± 1 of :func:`write_sounds` stands for, in the signals' unit."""
    loudest = max(float(np.max(np.abs(s))) for s in signals.values())
    return loudest / PEAK if loudest > 0 else 1.0


def write_sounds(folder: Path, signals: Mapping[str, Array], rate: float, *, fade: float = FADE) -> list[Path]:
    """Write signals (n,) of any unit as WAV files of 24 bits, by name, all with one gain; `fade` s at the end.

    Returns
    -------
    list of Path
        In the order of `signals`.
    """
    import soundfile  # loads a shared library: only where sound is wanted

    gain = 1 / full_scale(signals)
    paths = []
    for name, signal in signals.items():
        sound = gain * signal
        n = min(int(fade * rate), sound.size)
        sound[sound.size - n:] *= np.linspace(1.0, 0.0, n)
        path = folder / f"{name}.wav"
        soundfile.write(path, sound, round(rate), subtype="PCM_24")
        paths.append(path)
    return paths
