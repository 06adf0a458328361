#!/usr/bin/env python3
"""Recompute a result of the measuring engine with SciPy.

Reads the control points and the readings (the CSV files of `fettle measure`)
and the JSON the program printed, adjusts all readings anew with
scipy.optimize.least_squares, with the points the program calls steady tied to
their nominal places, and compares poses and shifts.

    python3 refit.py points.csv readings.csv result.json [--std SETUP=MM]
        [--temperature EXPANSION,STD,REFERENCE,BODY,BODYSTD]

--temperature corrects all readings for a body of that temperature (degrees
Celsius, expansions in parts per million per kelvin), as docs/methods/measure.md
says.

result.json is the output of `fettle measure --json`, or of `fettle assess
--json` (the part under "measure" is then used). Exit code 1 when anything
differs by more than 1e-6 mm or 1e-9 rad. Needs numpy and scipy only.
"""
import argparse
import csv
import json
import sys

import numpy as np
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

TOL_MM, TOL_RAD = 1e-6, 1e-9


def rows(path):
    with open(path, newline="", encoding="utf-8-sig") as f:
        lines = [l for l in f if l.strip() and not l.lstrip().startswith("#")]
    return [{k.strip(): (v or "").strip() for k, v in r.items() if k} for r in csv.DictReader(lines)]


def number(row, *names, default=None):
    for n in names:
        if row.get(n, "") != "":
            return float(row[n])
    return default


def find_measure(doc):
    if isinstance(doc, dict):
        if "hypotheses" in doc:
            return doc
        for key in ("measure", "measurement", "result"):
            if key in doc:
                got = find_measure(doc[key])
                if got:
                    return got
        for v in doc.values():
            got = find_measure(v)
            if got:
                return got
    if isinstance(doc, list):
        for v in doc:
            got = find_measure(v)
            if got:
                return got
    return None


class Problem:
    """Unknowns: a pose per set-up, and a position per point that has one."""

    def __init__(self, points, readings, hyp, default_std, warm=None):
        self.nominal = {r["id"]: np.array([float(r[c]) for c in ("x_mm", "y_mm", "z_mm")]) for r in points}
        self.spread = {r["id"]: number(r, "std_mm", default=0.0) for r in points}
        self.setups = list(hyp["setups"])
        self.steady = set(hyp["steady"])
        known = {p["id"] for p in hyp["points"]}
        self.coords, self.spans = [], []
        for r in readings:
            std = number(r, "std_mm", default=default_std.get(r["setup"]))
            if r["kind"] == "xyz":
                if r["setup"] in self.setups and r["from"] in known:
                    s = [number(r, "std_%s_mm" % a, default=std) for a in "xyz"]
                    at = np.array([float(r[c]) for c in ("x_mm", "y_mm", "z_mm")])
                    self.coords.append((r["setup"], r["from"], at, np.array(s)))
            elif r["from"] in known and r["to"] in known:
                if r["kind"] == "length" or r["setup"] in self.setups:
                    self.spans.append((r["setup"], r["kind"], r["from"], r["to"], float(r["value_mm"]), std))
        if warm:
            self.correct(*warm)
        # A point read once and not steady is where its reading says: solving
        # for it changes nothing else, so it is left out.
        count = {}
        for c in self.coords:
            count[c[1]] = count.get(c[1], 0) + 1
        in_spans = {s[2] for s in self.spans} | {s[3] for s in self.spans}
        self.free = sorted(i for i in known if i not in self.steady and (count.get(i, 0) != 1 or i in in_spans))
        self.tied = sorted(i for i in self.steady if self.spread[i] > 0)
        self.at = {p: 6 * len(self.setups) + 3 * k for k, p in enumerate(self.free + self.tied)}
        self.size = 6 * len(self.setups) + 3 * len(self.at)
        self.mid = np.mean([self.nominal[i] for i in self.steady], axis=0)

    def correct(self, expansion, std, reference, body, body_std):
        dt = body - reference
        factor = 1 / (1 + 1e-6 * expansion * dt)
        u = 1e-6 * np.hypot(expansion * body_std, std * dt)
        middle = {s: np.median([c[2] for c in self.coords if c[0] == s], axis=0) for s in {c[0] for c in self.coords}}
        self.coords = [(s, i, at * factor, np.hypot(sd, u * (at - middle[s]))) for s, i, at, sd in self.coords]
        self.spans = [(s, k, a, b, v * factor, np.hypot(sd, u * v * factor)) for s, k, a, b, v, sd in self.spans]

    def start(self, hyp):
        x = np.zeros(self.size)
        self.pose0 = {}
        for s in self.setups:
            r = Rotation.from_rotvec(np.radians(hyp["setups"][s]["rotationDeg"]))
            self.pose0[s] = (r, np.array(hyp["setups"][s]["translationMm"]) + r.apply(self.mid))
        for p in hyp["points"]:
            if p["id"] in self.at:
                k = self.at[p["id"]]
                x[k:k + 3] = self.nominal[p["id"]] - self.mid
                if p["id"] not in self.steady:
                    x[k:k + 3] += p["shiftMm"]
        # Start away from the answer, so that agreement means something.
        x[:6 * len(self.setups)] += np.tile([3e-4, -2e-4, 4e-4, 2.0, -1.0, 3.0], len(self.setups))
        return x

    def pose(self, x, s):
        k = 6 * self.setups.index(s)
        r0, c0 = self.pose0[s]
        return Rotation.from_rotvec(x[k:k + 3]) * r0, c0 + x[k + 3:k + 6]

    def point(self, x, i):
        if i in self.at:
            return x[self.at[i]:self.at[i] + 3]
        return self.nominal[i] - self.mid if i in self.steady else None

    def residuals(self, x):
        out = []
        for s, i, at, std in self.coords:
            p = self.point(x, i)
            if p is not None:
                r, c = self.pose(x, s)
                out.append((r.apply(p) + c - at) / std)
        for s, kind, a, b, value, std in self.spans:
            pa, pb = self.point(x, a), self.point(x, b)
            if kind == "length":
                v = np.linalg.norm(pa - pb)
            else:
                v = self.pose(x, s)[0].apply(pa - pb)[2]
            out.append(np.array([(v - value) / std]))
        for i in self.tied:
            out.append((self.point(x, i) - (self.nominal[i] - self.mid)) / self.spread[i])
        return np.concatenate(out)

    def shift(self, x, i):
        """Where the readings of point i alone put it, minus its nominal place."""
        mine = [c for c in self.coords if c[1] == i]
        spans = [s for s in self.spans if i in (s[2], s[3])]

        def res(p):
            out = []
            for s, _, at, std in mine:
                r, c = self.pose(x, s)
                out.append((r.apply(p) + c - at) / std)
            for s, kind, a, b, value, std in spans:
                pa = p if a == i else self.at_or_reading(x, a)
                pb = p if b == i else self.at_or_reading(x, b)
                v = np.linalg.norm(pa - pb) if kind == "length" else self.pose(x, s)[0].apply(pa - pb)[2]
                out.append(np.array([(v - value) / std]))
            return np.concatenate(out)

        p0 = self.nominal[i] - self.mid
        if i in self.at and i not in self.steady:
            return self.point(x, i) - p0
        q = self.point(x, i) if i in self.steady else p0
        # Readings of coordinates are linear in the point: one step is exact.
        # With lengths the program takes one step from the adjusted place too.
        h = 1e-3
        j = np.column_stack([(res(q + h * e) - res(q - h * e)) / (2 * h) for e in np.eye(3)])
        q = q - np.linalg.solve(j.T @ j, j.T @ res(q))
        if not spans:
            q = q - np.linalg.solve(j.T @ j, j.T @ res(q))
        return q - p0

    def at_or_reading(self, x, i):
        p = self.point(x, i)
        if p is not None:
            return p
        s, _, at, _ = next(c for c in self.coords if c[1] == i)
        r, c = self.pose(x, s)
        return r.inv().apply(at - c)


def polish(pr, x):
    """Gauss-Newton steps with a numerical Jacobian, to the last digits."""
    for _ in range(6):
        h = np.where(np.arange(x.size) < 6 * len(pr.setups), 1e-6, 1e-3)
        for k in range(len(pr.setups)):
            h[6 * k + 3:6 * k + 6] = 1e-3
        j = np.empty((pr.residuals(x).size, x.size))
        for k in range(x.size):
            e = np.zeros(x.size)
            e[k] = h[k]
            j[:, k] = (pr.residuals(x + e) - pr.residuals(x - e)) / (2 * h[k])
        x = x - np.linalg.lstsq(j, pr.residuals(x), rcond=None)[0]
    return x


def main():
    ap = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    ap.add_argument("points")
    ap.add_argument("readings")
    ap.add_argument("result")
    ap.add_argument("--std", action="append", default=[], metavar="SETUP=MM",
                    help="standard uncertainty of a set-up whose readings give none")
    ap.add_argument("--temperature", metavar="A,U,REF,T,U",
                    help="expansion of the body and its uncertainty [ppm/K], reference temperature, temperature and its uncertainty")
    a = ap.parse_args()
    warm = [float(v) for v in a.temperature.split(",")] if a.temperature else None
    default_std = {k: float(v) for k, v in (s.split("=") for s in a.std)}
    with open(a.result, encoding="utf-8") as f:
        doc = find_measure(json.load(f))
    if not doc or not doc["hypotheses"]:
        print("the result has no hypothesis", file=sys.stderr)
        return 1
    points, readings = rows(a.points), rows(a.readings)
    bad = 0
    for n, hyp in enumerate(doc["hypotheses"], 1):
        bad += compare(n, Problem(points, readings, hyp, default_std, warm), hyp)
    print("agreement" if bad == 0 else "%d values disagree" % bad)
    return 1 if bad else 0


def compare(n, pr, hyp):
    x = pr.start(hyp)
    sol = least_squares(pr.residuals, x, x_scale="jac", xtol=1e-15, ftol=1e-15, gtol=1e-15)
    x = polish(pr, sol.x)
    bad = 0

    def line(what, got, want, tol, unit):
        nonlocal bad
        diff = float(np.max(np.abs(np.asarray(got) - np.asarray(want))))
        ok = diff <= tol
        bad += not ok
        print("%-34s %-10s largest difference %.2e %s" % (what, "agrees" if ok else "DISAGREES", diff, unit))

    print("hypothesis %d: %d steady points, %d set-ups" % (n, len(pr.steady), len(pr.setups)))
    for s in pr.setups:
        r, c = pr.pose(x, s)
        want = Rotation.from_rotvec(np.radians(hyp["setups"][s]["rotationDeg"]))
        line("  rotation of set-up " + s, (r * want.inv()).as_rotvec(), [0, 0, 0], TOL_RAD, "rad")
        # The translation is compared at the middle of the steady block: at the
        # origin of the body a rounding of the rotation is seen through a lever.
        line("  translation of set-up " + s, c, want.apply(pr.mid) + hyp["setups"][s]["translationMm"], 2 * TOL_MM, "mm")
    chi2 = float(np.sum(pr.residuals(x) ** 2))
    line("  chi2", chi2, hyp["chi2"], 1e-6 * (1 + chi2), "")
    for p in hyp["points"]:
        line("  shift of " + p["id"], pr.shift(x, p["id"]), p["shiftMm"], TOL_MM, "mm")
    return bad


if __name__ == "__main__":
    sys.exit(main())
