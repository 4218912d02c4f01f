#!/usr/bin/env python3
"""Does the program load what draws PDF and PNG at every start? start.py READELF WHORL: names the libraries, exit code 1.

librsvg and cairo bring forty libraries with them, which took more time at each start than all others together."""
import re
import subprocess
import sys


def main():
    readelf, program = sys.argv[1:]
    text = subprocess.run([readelf, "-d", program], check=True, capture_output=True, text=True).stdout
    needed = re.findall(r"\(NEEDED\).*\[(.+)\]", text)
    if not any(name.startswith("libc.") for name in needed):
        sys.exit(f"{program}: not even the C library is needed: nothing was read of it")
    drawing = [name for name in needed if re.match(r"lib(rsvg|cairo|glib|gobject|pango|gdk)", name)]
    if drawing:
        sys.exit(f"{program} loads {', '.join(drawing)} at every start")


main()
