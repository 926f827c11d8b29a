"""Statistics by scipy and numpy, for tests to compare with.

Reads a list of jobs as JSON from standard input and prints a list of answers,
each a list of numbers. A job is {"do": NAME, ...}.
"""
import json
import sys

import numpy as np
from scipy import linalg, optimize, stats


def theil_sen(j):
    r = stats.theilslopes(j["y"], j["x"], j["level"])
    return [r.slope, r.intercept, r.low_slope, r.high_slope]


def kendall(j):
    """Kendall's test of the series against its order: the exact p, two-sided."""
    return [stats.kendalltau(range(len(j["y"])), j["y"], method="exact").pvalue]


def hyperbola(j):
    """t = W/(P - C) by least squares on t: C, W, their standard errors."""
    p, cov = optimize.curve_fit(lambda x, c, w: w / (x - c), j["x"], j["y"], p0=j["start"], xtol=1e-14, ftol=1e-14, gtol=1e-14, maxfev=10000)
    return [*p, *np.sqrt(np.diag(cov))]


def line(j):
    """y = a + b x by least squares: a, b, their standard errors."""
    r = stats.linregress(j["x"], j["y"])
    return [r.intercept, r.slope, r.intercept_stderr, r.stderr]


def success(j):
    """(1 - lapse)/(1 + exp((x - T)/W)) by greatest likelihood: T, W, -ln L."""
    x, good, n = (np.array(j[k], float) for k in ("x", "good", "n"))

    def loss(v):
        p = (1 - j["lapse"]) / (1 + np.exp(np.clip((x - v[0]) / np.exp(v[1]), -500, 500)))
        p = np.clip(p, 1e-300, 1)
        return -np.sum(good * np.log(p) + (n - good) * np.log1p(-p))

    r = optimize.minimize(loss, [j["start"][0], np.log(j["start"][1])], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12, "maxiter": 20000, "maxfev": 20000})
    return [r.x[0], float(np.exp(r.x[1])), r.fun]


def middle(j):
    """Student's interval of the mean of x."""
    return list(stats.t.interval(j["level"], len(j["x"]) - 1, np.mean(j["x"]), stats.sem(j["x"])))


def lstsq(j):
    """The last coefficient of least squares of y on a design, and Student's interval of it."""
    x, y = np.array(j["design"]), np.array(j["y"])
    b, squares, _, _ = linalg.lstsq(x, y)
    free = len(y) - x.shape[1]
    error = np.sqrt(squares / free * linalg.inv(x.T @ x)[-1, -1])
    return [b[-1], *stats.t.interval(j["level"], free, b[-1], error)]


DO = {f.__name__: f for f in (theil_sen, kendall, hyperbola, line, success, middle, lstsq)}
print(json.dumps([[float(v) for v in DO[j["do"]](j)] for j in json.load(sys.stdin)]))
