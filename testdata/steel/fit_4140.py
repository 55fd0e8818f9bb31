"""Fits 4140's tempering curve in the form of temper_fit.json to tempering_measured.csv and
writes fit_4140.json: python3 fit_4140.py > fit_4140.json. Plain Python, apart from the Go code.

loo_q90_hrc is the 90 % point of the distances when each point is judged by a fit made
without it."""
import csv
import json
import math

rows = [r for r in csv.DictReader(line for line in open("tempering_measured.csv")
                                  if not line.startswith("#"))
        if r["steel_as_named"] == "AISI-SAE 4140" and not r["flag"]
        and 150 <= float(r["temp_c"]) <= 400 and 90 <= float(r["time_s"]) <= 86400]


def parameter(r):
    return (float(r["temp_c"]) + 273.15) * (18 + math.log10(float(r["time_s"]) / 3600)) / 1000


def solve(points):
    a = [[sum(x ** (i + j) for x, _ in points) for j in range(3)]
         + [sum(y * x ** i for x, y in points)] for i in range(3)]
    for i in range(3):
        a[i] = [v / a[i][i] for v in a[i]]
        for k in range(3):
            if k != i:
                a[k] = [p - a[k][i] * q for p, q in zip(a[k], a[i])]
    return [row[3] for row in a]


def off(a, point):
    x, y = point
    return y - (a[0] + a[1] * x + a[2] * x * x)


points = [(parameter(r) - 9, float(r["hrc"])) for r in rows]
a = solve(points)
left = [off(a, p) for p in points]
loo = sorted(abs(off(solve(points[:i] + points[i + 1:]), p)) for i, p in enumerate(points))
labs = {}
for r, d in zip(rows, left):
    labs.setdefault(r["source"], []).append(d)
print(json.dumps({
    "header": "4140's tempering curve in the form of temper_fit.json, by fit_4140.py from "
              "tempering_measured.csv. COMPUTED.",
    "a": [round(v, 5) for v in a],
    "n": len(points),
    "rms_hrc": round(math.sqrt(sum(d * d for d in left) / len(left)), 2),
    "max_resid_hrc": round(max(abs(d) for d in left), 2),
    "loo_q90_hrc": round(loo[math.ceil(0.9 * len(loo)) - 1], 2),
    "mean_by_laboratory_hrc": {k: round(sum(v) / len(v), 2) for k, v in labs.items()},
}, indent=1))
