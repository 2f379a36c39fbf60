"""Ways a sound goes before it is heard: codecs of telephones and messages, and the noise suppression of browsers.

Each way gets samples and writes a file, as a phone or a page would send it. What a way needs and this machine has not
is said in one line, and the way is left out. Encoders come with PyAV and soundfile; the processing of calls in browsers
with the packages `webrtc-noise-gain` and `pyrnnoise`, which are for measuring only and no part of the program.
"""

from __future__ import annotations

import importlib
import importlib.util
import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Floats = NDArray[np.float64]

SPEECH_HZ, WIDE_HZ, MUSIC_HZ, CALL_HZ = 8_000, 16_000, 44_100, 48_000
FULL_SCALE = 32_767
FRAME_S = 0.01


class NotHereError(Exception):
    """A way of sending that this machine cannot go, and why."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way of sending: its name, its goal, and what writes the file."""

    name: str
    write: Callable[[Floats, int, Path], Path]
    harmless: bool = True


@dataclass(frozen=True, slots=True)
class Codec:
    """An encoder of PyAV with its settings."""

    encoder: str
    ending: str
    rate_hz: int
    form: str
    bits_per_second: int
    options: dict[str, str] = field(default_factory=dict)

    def __call__(self, samples: Floats, rate_hz: int, path: Path) -> Path:
        """Write samples through this encoder."""
        return with_av(at_rate(samples, rate_hz, self.rate_hz), self, path.with_suffix(self.ending))


def at_rate(samples: Floats, rate_hz: int, wanted_hz: int) -> Floats:
    """Return samples at another rate."""
    ratio = Fraction(wanted_hz, rate_hz)
    if ratio == 1:
        return samples
    return np.asarray(signal.resample_poly(samples, ratio.numerator, ratio.denominator))


def with_av(samples: Floats, codec: Codec, path: Path) -> Path:
    """Write samples with an encoder of PyAV."""
    try:
        av: Any = importlib.import_module("av")
        av.Codec(codec.encoder, "w")
    except (ImportError, ValueError) as error:
        raise NotHereError(f"no encoder {codec.encoder} ({error})") from error
    whole = np.clip(samples, -1, 1)
    packed = (whole * FULL_SCALE).astype(np.int16) if codec.form.startswith("s16") else whole.astype(np.float32)
    with av.open(str(path), "w") as file:
        stream = file.add_stream(codec.encoder, rate=codec.rate_hz, layout="mono", options=codec.options)
        stream.format = codec.form
        if codec.bits_per_second:
            stream.bit_rate = codec.bits_per_second
        frame = av.AudioFrame.from_ndarray(packed[None, :], format=codec.form, layout="mono")
        frame.sample_rate = codec.rate_hz
        fifo = av.AudioFifo()
        fifo.write(frame)
        size = stream.codec_context.frame_size or codec.rate_hz // 50
        while (part := fifo.read(size)) is not None:
            file.mux(stream.encode(part))
        rest = fifo.read()
        if rest is not None:
            file.mux(stream.encode(rest))
        file.mux(stream.encode(None))
    return path


def plain(samples: Floats, rate_hz: int, path: Path) -> Path:
    """Write samples as they are."""
    return with_soundfile(samples, rate_hz, path.with_suffix(".wav"), "PCM_16")


def with_soundfile(samples: Floats, rate_hz: int, path: Path, subtype: str) -> Path:
    """Write samples with an encoder of soundfile."""
    soundfile: Any = importlib.import_module("soundfile")
    soundfile.write(path, samples, rate_hz, subtype=subtype)
    return path


def telephone(subtype: str) -> Callable[[Floats, int, Path], Path]:
    """Return a way of 8,000 samples a second in a WAV file."""

    def write(samples: Floats, rate_hz: int, path: Path) -> Path:
        return with_soundfile(at_rate(samples, rate_hz, SPEECH_HZ), SPEECH_HZ, path.with_suffix(".wav"), subtype)

    return write


def suppressed(noise: int, gain: int) -> Callable[[Floats, int, Path], Path]:
    """Return the way through the noise suppression and gain control of calls in browsers."""

    def write(samples: Floats, rate_hz: int, path: Path) -> Path:
        try:
            package: Any = importlib.import_module("webrtc_noise_gain")
        except ImportError as error:
            raise NotHereError("no noise suppression of calls: pip install webrtc-noise-gain") from error
        processor = package.AudioProcessor(gain, noise)
        size = round(FRAME_S * WIDE_HZ)
        slow = (np.clip(at_rate(samples, rate_hz, WIDE_HZ), -1, 1) * FULL_SCALE).astype(np.int16)
        parts = [slow[at : at + size] for at in range(0, len(slow) - size + 1, size)]
        cleaned = b"".join(bytes(processor.Process10ms(part.tobytes()).audio) for part in parts)
        return plain(np.frombuffer(cleaned, np.int16) / FULL_SCALE, WIDE_HZ, path)

    return write


def denoised(samples: Floats, rate_hz: int, path: Path) -> Path:
    """Write samples after a neural network that keeps speech alone."""
    network = denoiser()
    fast = at_rate(samples, rate_hz, CALL_HZ)
    size = int(network.FRAME_SIZE)
    state = network.create()
    parts = [fast[at : at + size] for at in range(0, len(fast) - size + 1, size)]
    kept = [network.process_mono_frame(state, part.astype(np.float32))[0] for part in parts]
    network.destroy(state)
    return plain(np.concatenate(kept).astype(np.float64) / FULL_SCALE, CALL_HZ, path)


def denoiser() -> ModuleType:
    """Return the module that speaks to the network; the package around it wants more than is needed here."""
    found = importlib.util.find_spec("pyrnnoise")
    if found is None or not found.submodule_search_locations:
        raise NotHereError("no neural noise suppression: pip install --no-deps pyrnnoise")
    name = "bench_denoiser"
    if name not in sys.modules:
        place = Path(found.submodule_search_locations[0]) / "rnnoise.py"
        spec = importlib.util.spec_from_file_location(name, place)
        if spec is None or spec.loader is None:
            raise NotHereError(f"{place} cannot be loaded")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        sys.modules[name] = module
    return sys.modules[name]


def opus(bits_per_second: int, **options: str) -> Codec:
    """Return Opus for speech, as chats send it."""
    return Codec("libopus", ".ogg", CALL_HZ, "s16", bits_per_second, {"application": "voip", **options})


def amr(bits_per_second: int, **options: str) -> Codec:
    """Return the narrow codec of mobile telephones."""
    return Codec("libopencore_amrnb", ".amr", SPEECH_HZ, "s16", bits_per_second, options)


WAYS = (
    Way("as recorded", plain),
    Way("G.711 A-law", telephone("ALAW")),
    Way("G.711 mu-law", telephone("ULAW")),
    Way("GSM full rate", telephone("GSM610")),
    Way("AMR-NB 12.2k", amr(12_200)),
    Way("AMR-NB 12.2k DTX", amr(12_200, dtx="1")),
    Way("AMR-NB 4.75k", amr(4_750)),
    Way("Opus 12k DTX", opus(12_000, dtx="1")),
    Way("Opus 24k", opus(24_000)),
    Way("MP3 64k", Codec("libmp3lame", ".mp3", MUSIC_HZ, "s16p", 64_000)),
    Way("AAC 24k", Codec("aac", ".m4a", 24_000, "fltp", 24_000)),
    Way("AAC 64k", Codec("aac", ".m4a", MUSIC_HZ, "fltp", 64_000)),
    Way("browser noise 2", suppressed(2, 0)),
    Way("browser noise 4", suppressed(4, 0)),
    Way("browser gain 9", suppressed(0, 9)),
    Way("neural denoiser", denoised, harmless=False),
)
