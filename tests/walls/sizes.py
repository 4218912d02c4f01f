"""How big things of src are: no file above 600 lines, no class above 300, no function above 100 but those that say why.

  sizes.py SOURCE_DIR    what is too big, with file and line; exit code 1 if there is something

A long function stands below a comment that begins with "Long:" and gives the reason; there may be ten of them. Classes and functions
are measured with Universal Ctags where it is installed (Debian: universal-ctags).
"""
import json
import pathlib
import shutil
import subprocess
import sys

FILE, CLASS, FUNCTION, REASONED = 600, 300, 100, 10
COMMENT = 25  # lines above a function in which its comment, template and attributes stand


def definitions(source):
    """(kind, name, file, first line, lines) of everything that has an end."""
    command = ["ctags", "-R", "--output-format=json", "--fields=+neK", "--kinds-C++=fcs", "-f", "-", str(source)]
    out = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    for line in out.splitlines():
        tag = json.loads(line)
        if tag.get("_type") == "tag" and "end" in tag:
            yield tag["kind"], tag["name"], pathlib.Path(tag["path"]), tag["line"], tag["end"] - tag["line"] + 1


def has_reason(file, line):
    above = file.read_text(encoding="utf-8").splitlines()[max(0, line - 1 - COMMENT):line - 1]
    for text in reversed(above):
        if text.strip() in ("}", "};") or text.startswith("}"):
            return False
        if text.strip().startswith("// Long: "):
            return True
    return False


def main():
    source = pathlib.Path(sys.argv[1]) / "src"
    files = [p for p in sorted(source.rglob("*")) if p.suffix in (".cpp", ".hpp")]
    found = [f"{p.relative_to(source)}: {n} lines" for p in files
             if (n := len(p.read_text(encoding="utf-8").splitlines())) > FILE]
    if len(files) < 100:
        found.append(f"{len(files)} files: nothing to judge")
    if shutil.which("ctags") is None or b"Universal" not in subprocess.run(["ctags", "--version"], capture_output=True).stdout:
        print("\n".join(found) if found else f"{len(files)} files; classes and functions not measured: no Universal Ctags")
        return 1 if found else 0
    reasoned = 0
    for kind, name, file, line, lines in definitions(source):
        where = f"{file.relative_to(source)}:{line}: {name}, {lines} lines"
        if kind in ("class", "struct") and lines > CLASS:
            found.append(where)
        elif kind == "function" and lines > FUNCTION:
            reasoned += 1
            if not has_reason(file, line):
                found.append(where + ": no comment \"// Long: ...\" above it")
    if reasoned > REASONED:
        found.append(f"{reasoned} long functions: at most {REASONED}, with or without a reason")
    print("\n".join(found) if found else f"{len(files)} files, {reasoned} long functions, each with its reason")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
