"""Signals as sound files: one loudness for all, so that the balance of the strings can be heard."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from stringflux.geometry.arrays import Array

PEAK = 10 ** (-3 / 20)
"""Level of the loudest sample of all files together, of full scale (−3 dB)."""
FADE = 0.05
"""The end of each file fades out in so many seconds, or it would click."""


def write_sounds(folder: Path, signals: Mapping[str, Array], rate: float) -> list[Path]:
    """Write signals (n,) of any unit as WAV files of 24 bits, by name, all with one gain.

    Returns
    -------
    list of Path
        In the order of `signals`.
    """
    import soundfile  # loads a shared library: only where sound is wanted

    loudest = max(float(np.max(np.abs(s))) for s in signals.values())
    gain = PEAK / loudest if loudest > 0 else 1.0
    paths = []
    for name, signal in signals.items():
        sound = gain * signal
        n = min(int(FADE * rate), sound.size)
        sound[sound.size - n:] *= np.linspace(1.0, 0.0, n)
        path = folder / f"{name}.wav"
        soundfile.write(path, sound, round(rate), subtype="PCM_24")
        paths.append(path)
    return paths
