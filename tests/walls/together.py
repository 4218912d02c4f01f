#!/usr/bin/env python3
"""Sources that are compiled as one (whorl_together): no two of them may hide a function of the same name.

    together.py ROOT

A function in an unnamed namespace is its file's own. Joined with a file that has one of the same name, a call may silently go to the other,
where the arguments fit; a name given twice with the same arguments the compiler refuses by itself.
"""
import re
import sys
from pathlib import Path

GROUP = re.compile(r"^whorl_together\((\w+) (\w+)([^)]*)\)", re.M)
# a definition or declaration at the left margin: type, name, parenthesis
FUNCTION = re.compile(r"^(?!return|namespace|struct|class|using|enum|static_assert|template|//|#)[\w:][\w:<>,&*\s\[\]]*?[\s&*>](\w+)\(", re.M)


def hidden(text):
    """Functions in the unnamed namespaces of a file."""
    names = set()
    for part in re.findall(r"^namespace \{\n(.*?)^\}  // namespace\n", text, re.S | re.M):
        names.update(FUNCTION.findall(part))
    return names


def shared(sources):
    """Pairs of files with what both hide; `sources`: name and text of each."""
    found, seen = [], {}
    for name, text in sources:
        for function in sorted(hidden(text)):
            if function in seen:
                found.append(f"{function}() in {seen[function]} and {name}")
            seen.setdefault(function, name)
    return found


def checked():
    """The check sees what it is for."""
    one = "namespace {\n\ndouble half(double x) { return 0.5 * x; }\n\n}  // namespace\n"
    assert shared([("a", one), ("b", one.replace("double x", "float x"))]) == ["half() in a and b"]
    assert shared([("a", one), ("b", "double half(double x) { return x; }\n")]) == []
    assert hidden("namespace {\n\nstd::vector<int>& of(int a,\n  int b) {\n  call(a);\n}\n\n}  // namespace\n") == {"of"}


def main(root):
    checked()
    groups, wrong = 0, []
    for lists in sorted((root / "src").glob("*/CMakeLists.txt")):
        for target, group, files in GROUP.findall(lists.read_text()):
            groups += 1
            sources = [(name, (lists.parent / name).read_text()) for name in files.split()]
            wrong += [f"{target}, group {group}: {pair}" for pair in shared(sources)]
    for line in wrong:
        print(line)
    print(f"{groups} groups of sources compiled as one, {len(wrong)} names hidden twice")
    return 1 if wrong or not groups else 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
