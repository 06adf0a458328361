#!/usr/bin/env python3
"""The robust fit that SciPy offers, for comparison in the campaign.

Reads one case per line, {"from": [[x, y, z], ...], "to": ..., "std": s}, fits a
rigid motion with scipy.optimize.least_squares and the loss given, starting from
the plain best fit, and prints per line the places of the points whose squared
distance over s^2 exceeds 16.27 (chi-square, 3 degrees of freedom, 0.1 %).

    python3 robust.py soft_l1 < cases
"""
import json
import sys

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation


def best_fit(p, q):
    a, b = p.mean(axis=0), q.mean(axis=0)
    u, _, vt = np.linalg.svd((q - b).T @ (p - a))
    r = u @ np.diag([1, 1, np.linalg.det(u) * np.linalg.det(vt)]) @ vt
    return Rotation.from_matrix(r), a, b


def main():
    loss = sys.argv[1] if len(sys.argv) > 1 else "soft_l1"
    for line in sys.stdin:
        case = json.loads(line)
        p, q = np.array(case["from"]), np.array(case["to"])
        r0, a, b = best_fit(p, q)
        local = r0.apply(p - a)

        def residuals(x):
            return ((Rotation.from_rotvec(x[:3] / 1000).apply(local) + b + x[3:] - q) / case["std"]).ravel()

        x = least_squares(residuals, np.zeros(6), loss=loss).x
        t2 = np.sum(residuals(x).reshape(-1, 3) ** 2, axis=1)
        print(json.dumps([int(i) for i in np.flatnonzero(t2 > 16.266)]), flush=True)


if __name__ == "__main__":
    main()
