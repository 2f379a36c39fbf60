"""What a line does to a sound on its way: the band and the companding of a telephone.

All here keep the time of each sample: a filter runs forward and backward, so that a drop stays where it was.
"""

from __future__ import annotations

import numpy as np

from diagnose.errors import UsageError
from diagnose.training.voices import Samples

TELEPHONE_RATE_HZ = 8_000
TELEPHONE_BAND_HZ = (300.0, 3400.0)
"""Band of a telephone line (ITU-T G.712; from memory)."""
_BAND_ORDER = 6
MU = 255.0
"""Compression of the law (ITU-T G.711)."""
_STEPS = 127.5


def telephone_band(samples: Samples, rate_hz: int) -> Samples:
    """Return a sound as a telephone line lets it through, 8,000 samples a second.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    rate_hz : int
        Its samples per second, a multiple of 8,000 [1/s].

    Raises
    ------
    UsageError
        If the rate is no multiple of 8,000.
    """
    from scipy import signal

    if rate_hz % TELEPHONE_RATE_HZ:
        raise UsageError(f"{rate_hz} samples a second", do="Give a multiple of 8,000, such as 48,000")
    low_hz, high_hz = TELEPHONE_BAND_HZ
    # At 8,000 a second the upper edge is close below half the rate; the filter needs to lie below it all the same.
    band = signal.butter(_BAND_ORDER, (low_hz, high_hz), "bandpass", fs=rate_hz, output="sos")
    through = signal.sosfiltfilt(band, samples)
    step = rate_hz // TELEPHONE_RATE_HZ
    slow: Samples = signal.resample_poly(through, 1, step) if step > 1 else through
    return slow


def mu_law(samples: Samples) -> Samples:
    """Return a sound after companding to 8 bits and back, as on a digital telephone line.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        Between -1 and 1; what is beyond is clipped.
    """
    kept = np.clip(samples, -1.0, 1.0)
    pressed = np.sign(kept) * np.log1p(MU * np.abs(kept)) / np.log1p(MU)
    coarse = np.round((pressed + 1.0) * _STEPS) / _STEPS - 1.0
    back: Samples = np.sign(coarse) * np.expm1(np.abs(coarse) * np.log1p(MU)) / MU
    return back
