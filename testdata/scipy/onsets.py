"""Finds the clicks in a recording by scipy's cross-correlation.

Input: a file of 32-bit floats, interleaved stereo; the least distance of two
clicks in frames. The pattern is the first click of the greatest height, so that nothing
is known here of how clicks are made. Output: JSON, for each click the frame at
which the pattern fits best.
"""
import json
import sys

import numpy as np
from scipy.signal import correlate, find_peaks

data = np.fromfile(sys.argv[1], dtype="<f4")
x = data[: len(data) // 2 * 2].reshape(-1, 2)[:, 0].astype(float)
if np.max(np.abs(x), initial=0) < 1e-3:
    print("[]")
    sys.exit()
high = np.flatnonzero(np.abs(x) > 0.9 * np.max(np.abs(x)))[0]
first = max(high - 100, 0)
pattern = x[first : first + 400]
fit = correlate(x, pattern, mode="valid", method="fft") / np.dot(pattern, pattern)
peaks, _ = find_peaks(fit, height=0.8, distance=int(sys.argv[2]))
print(json.dumps([int(p) for p in peaks]))
