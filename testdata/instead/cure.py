"""The cure of one pour, reckoned from a CSV file of temperatures without Pourward.

Prints the cure age at an instant, in seconds at the reference temperature, and the instant at which the reference time
was reached, in Unix seconds (nan if it was not before the file ends). The temperature is taken to run straight between
rows. The age is the rate integrated from row to row (scipy.integrate.quad, QUADPACK's adaptive Gauss-Kronrod rule); the
instant is the root of "age less reference time" within the piece in which it falls (scipy.optimize.brentq). Needs SciPy.

Usage: cure.py FILE.csv[.gz] TIME_COLUMN TEMP_COLUMN POURED UNTIL REF_SECONDS EA_J_PER_MOL REF_C
POURED and UNTIL are written as the times in the file, which are read as UTC.
"""

import csv
import gzip
import sys
from datetime import datetime, timezone

import numpy as np
from scipy.constants import R, zero_Celsius
from scipy.integrate import quad
from scipy.optimize import brentq


def unix(text):
    return datetime.fromisoformat(text).replace(tzinfo=timezone.utc).timestamp()


def read(path, time_column, temp_column):
    opened = gzip.open if path.endswith(".gz") else open
    with opened(path, "rt", newline="") as file:
        rows = [(unix(row[time_column]), float(row[temp_column])) for row in csv.DictReader(file) if row[temp_column]]
    return np.array(rows).T


def main(path, time_column, temp_column, poured, until, need, ea, ref):
    at, temp = read(path, time_column, temp_column)
    need, ea, ref = float(need), float(ea), float(ref)
    at, until = at - unix(poured), unix(until) - unix(poured)  # seconds since the pour

    def rate(t):
        return np.exp(-ea / R * (1 / (np.interp(t, at, temp) + zero_Celsius) - 1 / (ref + zero_Celsius)))

    def grown(a, b):
        return quad(rate, a, b, epsabs=0, epsrel=1e-12)[0]

    age, age_until, done = 0.0, float("nan"), float("nan")
    knots = np.append(0.0, at[at > 0])
    for a, b in zip(knots, knots[1:]):
        piece = grown(a, b)
        if a <= until <= b:
            age_until = age + grown(a, until)
        if age < need <= age + piece:
            done = brentq(lambda t: age + grown(a, t) - need, a, b, xtol=1e-6)
        if b >= until and age + piece >= need:
            break
        age += piece
    print(f"{age_until:.9f} {unix(poured) + done:.6f}")


if __name__ == "__main__":
    main(*sys.argv[1:])
