"""Totals of the best matching of each lane, by scipy's assignment solver.

Reads lanes from standard input as JSON: {"early", "late", "lanes": [{"due", "press"}]},
all in integer microseconds, and prints [[notes matched, total |offset|], ...].
A pair outside the window costs nothing and matches nothing, so that the solver
is free to leave a note alone; a pair inside it earns far more than any offset costs.
"""
import json
import sys

import numpy as np
from scipy.optimize import linear_sum_assignment

EARNS = 10**10
job = json.load(sys.stdin)
out = []
for lane in job["lanes"]:
    due, press = np.array(lane["due"]), np.array(lane["press"])
    if len(due) == 0 or len(press) == 0:
        out.append([0, 0])
        continue
    offset = press[None, :] - due[:, None]
    inside = (offset >= job["early"]) & (offset <= job["late"])
    cost = np.where(inside, np.abs(offset) - EARNS, 0)
    rows, cols = linear_sum_assignment(cost)
    matched = inside[rows, cols]
    out.append([int(matched.sum()), int(np.abs(offset[rows, cols])[matched].sum())])
json.dump(out, sys.stdout)
