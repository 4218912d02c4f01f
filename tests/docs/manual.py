"""The theory manual holds together: symbols are defined where they are used, and what is cited is in the bibliography.

  manual.py SOURCE_DIR    every fault as one line; exit code 1 if there is one

What the program prints is held against docs/symbols.md by the test `symbols`, ids and functions by `equation_links`.
"""
import pathlib
import re
import sys

GREEK = ("alpha beta gamma delta epsilon varepsilon zeta eta theta iota kappa lambda mu nu xi pi rho sigma tau phi "
         "varphi chi psi omega Gamma Delta Theta Lambda Xi Pi Sigma Phi Psi Omega ell").split()
NUMBERS = "Re Nu Sh Pr Sc We Oh Bo Ca Fr Wi De Dr Da Bi Rb".split()  # two letters, one symbol
INDEX = re.compile(r"[ijk]([+-]\d(/2)?)?|[AB]|n([+-]1)?(-i)?|\d|[ABn\d]+_?i?|\(.*\)|p(\+|-|pm).*")
WRAPPERS = ("text", "mathrm", "mathbf", "boldsymbol", "mathcal", "dot", "bar", "hat", "overline", "operatorname")
NOT_SYMBOLS = {"d", "e", "pi", "i"}  # differential, Euler's number, pi, an index


def group(tex, at):
    """What stands at AT, in braces or as one token, and where it ends."""
    while at < len(tex) and tex[at] == " ":
        at += 1
    if at >= len(tex):
        return "", at
    if tex[at] == "{":
        depth, end = 0, at
        while end < len(tex):
            depth += (tex[end] == "{") - (tex[end] == "}")
            end += 1
            if depth == 0:
                break
        return tex[at + 1:end - 1], end
    if tex[at] == "\\":
        command = re.match(r"\\([A-Za-z]+|.)", tex[at:])
        return command.group(0), at + command.end()
    return tex[at], at + 1


def subscript(text):
    """A subscript as plain words, without indices that only count: d_{f,A} is d_f, T_{\\text{run}} is T_run."""
    text = re.sub(r"\\(?:text|mathrm)\s*\{([^{}]*)\}", r"\1", text)
    text = re.sub(r"\\[,!; ]|[\s{}\\]|\^\*", "", text)
    return ",".join(part for part in text.split(",") if part and not INDEX.fullmatch(part))


def symbols(tex):
    """Names of the symbols in TEX, accents dropped: '\\dot m_g' is m_g, '\\phi_{p,A}' is phi_p."""
    tex = re.sub(r"\\(?:begin|end)\{[a-z]+\}|\\\\\[\d+pt\]|\^T\b|\^\{?[*']+\}?|'+", " ", tex)
    tex = re.sub(r"_\s*\\text\s*\{([^{}]*)\}", r"_{\1}", tex)
    tex = re.sub(r"\\(?:text|operatorname)\s*\{(?:[^{}]|\{[^{}]*\})*\}", " ", tex)
    found, at = set(), 0
    while at < len(tex):
        base = None
        if tex[at] == "\\":
            command = re.match(r"\\([A-Za-z]+|.)", tex[at:])
            name, at = command.group(1), at + command.end()
            if name in GREEK:
                base = name
            elif name in ("mathrm", "text"):
                _, at = group(tex, at)
                continue
            elif name in WRAPPERS:  # look at what is inside, as if it stood there
                inside, end = group(tex, at)
                tex = tex[:at] + inside + tex[end:]
                continue
            else:
                under = re.match(r"\s*_", tex[at:])
                if name in ("sum", "max", "min") and under:  # the index it runs over
                    _, at = group(tex, at + under.end())
                continue
        elif tex[at].isalpha():
            two = tex[at:at + 2]
            base = two if two in NUMBERS else tex[at]
            at += len(base)
        else:
            at += 1
            continue
        after = re.match(r"\s*_", tex[at:])
        if after:
            below, at = group(tex, at + after.end())
            below = subscript(below)
            found.add(f"{base}_{below}" if below else base)
        else:
            found.add(base)
    return found - NOT_SYMBOLS


def defined(block):
    """Symbols that a displayed formula defines itself: alone on the left of an equals sign."""
    found = set()
    block = re.sub(r"\\\\\[\d+pt\]", r"\\\\", block)
    for piece in re.split(r"\\\\|\\q?quad|\n|&(?!=)|,\s", block):
        left, equals, _ = piece.replace("&=", "=").partition("=")
        alone = symbols(left)
        if equals and len(alone) == 1 and not re.search(r"[+/]|\\frac|\\sqrt|\\int|\\sum", left):
            found |= alone
    return found


def displayed_and_named(page):
    """Symbols in the displayed formulas of a page, and those named: in text and tables, or by the formula itself."""
    blocks = re.findall(r"```math\n(.*?)```", page, re.S)
    text = re.sub(r"```.*?```", "", page, flags=re.S)
    text = re.sub(r"`[^`\n]*`", "", text)
    named = set()
    for inline in re.findall(r"\$([^$]+)\$", text):
        named |= symbols(inline)
    for block in blocks:
        named |= defined(block)
    return set().union(*(symbols(block) for block in blocks)) if blocks else set(), named


def shared_symbols(page):
    """Rows of the section for the theory in docs/symbols.md: symbol -> chapters that use it."""
    section = page.partition("## Shared by several chapters")[2].partition("\n## ")[0]
    rows = {}
    for line in section.splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split("|")]
        if line.startswith("| $") and len(cells) == 5:
            for symbol in symbols(cells[0]):
                rows.setdefault(symbol, set()).update(re.findall(r"\d+", cells[4]))
    return rows


def symbol_faults(chapters, shared):
    faults = []
    for number, page in chapters.items():
        displayed, named = displayed_and_named(page)
        for symbol in sorted(displayed - named):
            if number not in shared.get(symbol, ()):
                faults.append(f"chapter {number}: {symbol} stands in a formula and is named neither in the chapter nor "
                              f"in docs/symbols.md for chapter {number}")
    for symbol, where in sorted(shared.items()):
        for number in sorted(where, key=int):
            if number not in chapters or symbol not in set().union(*displayed_and_named(chapters[number])):
                faults.append(f"docs/symbols.md: chapter {number} does not use {symbol}")
    return faults


def main():
    docs = pathlib.Path(sys.argv[1]) / "docs"
    chapters = {str(int(p.name[:2])): p.read_text(encoding="utf-8") for p in sorted((docs / "theory").glob("*.md"))}
    shared = shared_symbols((docs / "symbols.md").read_text(encoding="utf-8"))
    faults = symbol_faults(chapters, shared)
    if len(chapters) < 14 or len(shared) < 30:
        faults.append(f"only {len(chapters)} chapters and {len(shared)} shared symbols found: nothing to judge")
    print("\n".join(faults) if faults else f"{len(chapters)} chapters, {len(shared)} shared symbols: all defined")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
