#!/usr/bin/env python3
"""Does the program call elementary functions of the C library of its machine? calls.py NM WHORL: names them, exit code 1.

Their last bit depends on the processor; cmake/WhorlElementary.cmake puts others in their place. long double is another type on
every machine, and its functions are named too."""
import re
import subprocess
import sys

ELEMENTARY = ("a?(cos|sin|tan)h? sincos atan2 cbrt erfc? exp exp2 exp10 expm1 hypot [lt]gamma lgamma_r log log10 log1p log2 pow "
              "j[01n] y[01n]").split()
NAME = re.compile(rf"({'|'.join(ELEMENTARY)})[fl]?")


def main():
    nm, program = sys.argv[1:]
    lines = subprocess.run([nm, "-D", "--undefined-only", program], check=True, capture_output=True, text=True).stdout.split()
    wanted = {word.split("@")[0] for word in lines}
    if "sqrt" not in wanted and "floor" not in wanted and "fmod" not in wanted and "strtod" not in wanted:
        sys.exit(f"{program}: not even floor or strtod is called: nothing was read of it")
    faults = sorted(name for name in wanted if NAME.fullmatch(name))
    if faults:
        sys.exit(f"{program} calls {', '.join(faults)} of the C library")


main()
