#!/usr/bin/env python3
"""Writes elementary.csv: arguments and correctly rounded values of the elementary functions, in hexadecimal, by mpmath with
60 digits (python3-mpmath). Run once; the test reads the table."""
import csv
import pathlib
import random

import mpmath

mpmath.mp.dps = 60
ONE = ["acos", "asin", "asinh", "atan", "atanh", "acosh", "cbrt", "cos", "cosh", "erf", "erfc", "exp", "exp2", "expm1", "log", "log10",
       "log1p", "log2", "sin", "sinh", "tan", "tanh", "tgamma"]
OWN = {
    "cbrt": lambda x: mpmath.sign(x) * mpmath.cbrt(abs(x)),
    "exp2": lambda x: mpmath.power(2, x),
    "log10": lambda x: mpmath.log(x) / mpmath.log(10),
    "log2": lambda x: mpmath.log(x) / mpmath.log(2),
    "tgamma": mpmath.gamma,
}
random.seed(20261128)


def argument(name):
    small = random.choice([1e-6, 1e-3, 0.1, 1.0, 1.0, 1.0])
    if name in ("acos", "asin", "atanh"):
        return random.uniform(-1, 1) * small
    if name == "acosh":
        return 1 + random.uniform(0, 50) * small
    if name.startswith("log"):
        return random.uniform(0, 3) * small if random.random() < 0.7 else random.uniform(0, 1e9)
    if name == "tgamma":
        return random.uniform(0.1, 30)
    if name in ("sin", "cos", "tan"):
        return random.uniform(-7, 7) * small if random.random() < 0.7 else random.uniform(-1e4, 1e4)
    return random.uniform(-25, 25) * small


def main():
    rows = []
    for name in ONE:
        for _ in range(24):
            x = argument(name)
            function = OWN.get(name) or getattr(mpmath, name)
            rows.append([name, x.hex(), "", float(function(mpmath.mpf(x))).hex()])
    for name in ("atan2", "hypot", "pow"):
        for _ in range(48):
            x, y = random.uniform(-5, 5), random.uniform(-5, 5)
            if name == "pow":
                x, y = abs(x) * random.choice([1e-5, 1.0, 1e4]), y * random.choice([0.1, 1.0, 4.0])
            value = {"atan2": mpmath.atan2, "hypot": mpmath.hypot, "pow": mpmath.power}[name](mpmath.mpf(x), mpmath.mpf(y))
            rows.append([name, x.hex(), y.hex(), float(value).hex()])
    with open(pathlib.Path(__file__).with_name("elementary.csv"), "w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["function", "first", "second", "correctly_rounded"])
        writer.writerows(rows)


main()
