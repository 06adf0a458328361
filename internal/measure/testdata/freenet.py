#!/usr/bin/env python3
"""Adjust lengths as free networks with SciPy and compare with the program.

Reads a list of networks as JSON from standard input: nominal places, lengths
(a, b, value, std), the places and covariances that the program found, its rank
and least singular value. The least squares solution is found from the nominal
places with scipy.optimize.least_squares; the covariance with inner constraints
over all points is the pseudo-inverse of the normal matrix (rank 3n - 6). Exit
code 1 when a distance differs by more than 1e-6 mm, a covariance by more than
1e-6 of the largest, or rank or least singular value differ.
"""
import json
import sys

import numpy as np
from scipy.optimize import least_squares


def rows(x, net, weighted):
    p = x.reshape(-1, 3)
    j = np.zeros((len(net["lengths"]), x.size))
    for k, (a, b, _, std) in enumerate(net["lengths"]):
        u = (p[int(a)] - p[int(b)]) / np.linalg.norm(p[int(a)] - p[int(b)])
        w = std if weighted else 1.0
        j[k, 3 * int(a):3 * int(a) + 3] = u / w
        j[k, 3 * int(b):3 * int(b) + 3] = -u / w
    return j


def misfit(x, net):
    p = x.reshape(-1, 3)
    return np.array([(np.linalg.norm(p[int(a)] - p[int(b)]) - v) / s for a, b, v, s in net["lengths"]])


bad = 0
for number, net in enumerate(json.load(sys.stdin)):
    start = np.array(net["nominal"]).ravel()
    fit = least_squares(misfit, start, jac=lambda x, n: rows(x, n, True), args=(net,), method="trf", xtol=1e-15, ftol=1e-15, gtol=1e-13, x_scale=1000.0)
    ours = np.array(net["at"])
    theirs = fit.x.reshape(-1, 3)
    far = max(abs(np.linalg.norm(ours[i] - ours[k]) - np.linalg.norm(theirs[i] - theirs[k])) for i in range(len(ours)) for k in range(i))
    normal = rows(ours.ravel(), net, True)
    q = np.linalg.pinv(normal.T @ normal, rcond=1e-11, hermitian=True)
    off = max(np.abs(q[3 * i:3 * i + 3, 3 * i:3 * i + 3] - np.array(c)).max() for i, c in enumerate(net["cov"])) / np.abs(q).max()
    singular = np.linalg.svd(rows(ours.ravel(), net, False), compute_uv=False)
    rank = int((singular > 1e-5 * singular[0]).sum())
    least = singular[3 * len(ours) - 7]
    if far > 1e-6 or off > 1e-6 or rank != net["rank"] or abs(least - net["least"]) > 1e-7:
        bad += 1
        print(f"network {number}: distances off by {far:.2e} mm, covariance by {off:.2e}, rank {rank} for {net['rank']}, least {least} for {net['least']}")
print(f"{number + 1} networks, {bad} differ")
sys.exit(bad > 0)
