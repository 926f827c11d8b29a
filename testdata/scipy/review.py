"""A run log reviewed by other means: exact fractions, scipy and numpy.

Usage: review.py RUN.jsonl; prints the totals and statistics of the offsets as
JSON. Due moments are taken as exact fractions, notes and presses are matched
panel by panel by scipy's assignment solver, statistics are numpy's.
"""
import json
import sys
from fractions import Fraction

import numpy as np
from scipy.optimize import linear_sum_assignment

EARLY, LATE = -105_000, 135_000  # the outermost default window
EARNS = 10**10

lines = [json.loads(line) for line in open(sys.argv[1])]
head, edges = lines[0], lines[1:]
drill = head["drill"]
per_beat = drill["per_beat"]
slot_us = Fraction(60_000_000) / (Fraction(str(drill["bpm"])) * per_beat)
steps = drill["steps"].replace("|", " ").split()
stride = len(steps) + drill.get("rest_beats", 0) * per_beat
due = {}
for rep in range(drill["reps"]):
    for slot, token in enumerate(steps):
        if token == ".":
            continue
        at = round(head["lead_us"] + (rep * stride + slot) * slot_us)  # ties to even
        for note in token.split("+"):
            due.setdefault(note.split("=")[0], []).append(at)
press = {}
for e in edges:
    if e.get("down"):
        press.setdefault(e["panel"], []).append(e["t"] - head.get("shift_us", 0))

offsets = []
for panel, moments in due.items():
    d, p = np.array(moments), np.array(press.get(panel, []))
    if len(p) == 0:
        continue
    offset = p[None, :] - d[:, None]
    inside = (offset >= EARLY) & (offset <= LATE)
    rows, cols = linear_sum_assignment(np.where(inside, np.abs(offset) - EARNS, 0))
    offsets += offset[rows, cols][inside[rows, cols]].tolist()
o = np.array(offsets)
notes = sum(map(len, due.values()))
json.dump({
    "notes": notes, "absent": notes - len(o), "stray": sum(map(len, press.values())) - len(o),
    "inner": int(((o >= -40_000) & (o <= 50_000)).sum()),
    "middle": int(((o >= -70_000) & (o <= 90_000)).sum()) - int(((o >= -40_000) & (o <= 50_000)).sum()),
    "mean": o.mean(), "sd": o.std(ddof=1), "median": float(np.median(o)),
    "mad": float(np.median(np.abs(o - np.median(o)))),
}, sys.stdout)
