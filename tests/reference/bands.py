"""Levels of one-third-octave bands by a bank of filters, in dB of mean square.

Butterworth band-passes of the 16th order (scipy), half the power at the edges of IEC 61260-1, base
ten. Prints a JSON list from 20 Hz to 20 kHz. Arguments: a file of 32-bit floats, the rate in Hz.
"""

import json
import sys

import numpy
from scipy import signal

samples = numpy.fromfile(sys.argv[1], dtype="<f4").astype(numpy.float64)
rate_hz = float(sys.argv[2])
levels_db = []
for x in range(-17, 14):
    low_hz, high_hz = (1000 * 10 ** ((2 * x + side) / 20) for side in (-1, 1))
    if high_hz < rate_hz / 2:
        bank = signal.butter(8, [low_hz, high_hz], "bandpass", fs=rate_hz, output="sos")
    else:
        bank = signal.butter(8, low_hz, "highpass", fs=rate_hz, output="sos")
    power = numpy.mean(signal.sosfilt(bank, samples) ** 2)
    levels_db.append(10 * numpy.log10(power) if power > 0 else -400.0)
print(json.dumps(levels_db))
