"""The cure of one pour, reckoned from a CSV file of temperatures without Pourward.

Prints the cure age at an instant, in seconds at the reference temperature, and the instant at which the reference time
was reached, in Unix seconds (nan if it was not before the file ends). The temperature is taken to run straight between rows; each
straight piece is integrated by Gauss and Legendre's rule with 16 points. Needs NumPy.

Usage: cure.py FILE.csv[.gz] TIME_COLUMN TEMP_COLUMN POURED UNTIL REF_SECONDS EA_J_PER_MOL REF_C
POURED and UNTIL are written as the times in the file, which are read as UTC.
"""

import csv
import gzip
import sys

import numpy as np

GAS = 8.314462618  # J/(mol K), CODATA 2018
KELVIN = 273.15


def read(path, time_column, temp_column):
    opened = gzip.open if path.endswith(".gz") else open
    with opened(path, "rt", newline="") as file:
        rows = [(row[time_column], row[temp_column]) for row in csv.DictReader(file) if row[temp_column]]
    at = np.array([r[0] for r in rows], dtype="datetime64[ms]").astype(np.int64) / 1000
    return at, np.array([float(r[1]) for r in rows])


def ages(seconds, start, end, ea, ref):
    """Equivalent seconds of straight runs from start to end, °C."""
    x, weight = np.polynomial.legendre.leggauss(16)
    share = (x[None, :] + 1) / 2
    kelvin = start[:, None] + (end - start)[:, None] * share + KELVIN
    rate = np.exp(-ea / GAS * (1 / kelvin - 1 / (ref + KELVIN)))
    return seconds * (rate @ weight) / 2


def unix(text):
    return np.datetime64(text.replace(" ", "T"), "ms").astype(np.int64) / 1000


def main(path, time_column, temp_column, poured, until, need, ea, ref):
    at, temp = read(path, time_column, temp_column)
    need, ea, ref = float(need), float(ea), float(ref)
    begin = unix(poured)
    start_c = np.interp(begin, at, temp)
    keep = at > begin
    at, temp = np.append(begin, at[keep]), np.append(start_c, temp[keep])
    age = np.cumsum(ages(np.diff(at), temp[:-1], temp[1:], ea, ref))
    done = float("nan")
    if age[-1] >= need:
        i = int(np.searchsorted(age, need))
        before = age[i - 1] if i else 0.0
        low, high = 0.0, 1.0
        for _ in range(60):  # halve the piece in which it happened
            mid = (low + high) / 2
            part = ages(np.array([(at[i + 1] - at[i]) * mid]), temp[i : i + 1], temp[i : i + 1] + (temp[i + 1] - temp[i]) * mid, ea, ref)
            low, high = (low, mid) if before + part[0] >= need else (mid, high)
        done = at[i] + (at[i + 1] - at[i]) * high
    print(f"{np.interp(unix(until), at[1:], age):.9f} {done:.6f}")  # exact where UNTIL is the time of a row


if __name__ == "__main__":
    main(*sys.argv[1:])
