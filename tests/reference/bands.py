"""Levels of one-third-octave bands by a bank of filters, in dB of mean square.

Linear-phase band-passes of eight seconds (scipy's firwin, Kaiser window), half the amplitude at the
edges of IEC 61260-1, base ten. They fall off within 0.7 Hz: filters with softer skirts would take in
tones beside their edges. Prints a JSON list from 20 Hz to 20 kHz. Arguments: a file of 32-bit
floats, the rate in Hz.
"""

import json
import sys

import numpy
from scipy import signal

samples = numpy.fromfile(sys.argv[1], dtype="<f4").astype(numpy.float64)
rate_hz = float(sys.argv[2])
taps = 8 * int(rate_hz) + 1
levels_db = []
for x in range(-17, 14):
    low_hz, high_hz = (1000 * 10 ** ((2 * x + side) / 20) for side in (-1, 1))
    edges_hz = [low_hz, high_hz] if high_hz < rate_hz / 2 else low_hz
    band_pass = signal.firwin(taps, edges_hz, window=("kaiser", 8.0), pass_zero=False, fs=rate_hz)
    energy = numpy.sum(signal.oaconvolve(samples, band_pass) ** 2)
    levels_db.append(10 * numpy.log10(energy / len(samples)) if energy > 0 else -400.0)
print(json.dumps(levels_db))
