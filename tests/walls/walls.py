"""The walls between the layers of src: which may include which, and which libraries stand behind which.

  walls.py SOURCE_DIR    every include that crosses a wall, with file and line; exit code 1 if there is one
"""
import pathlib
import re
import sys

# A layer includes itself and these. Nothing includes app; model and solver know nobody.
ALLOWED = {
    "model": set(),
    "solver": set(),
    "jet": {"model", "solver"},
    "engine": {"jet", "model", "solver"},
    "io": {"model"},
    "study": {"engine", "io", "jet", "model", "solver"},
    "figures": {"io", "model"},
    "table": {"io", "model"},
    "document": {"io", "model"},
    "console": {"io", "model", "table"},
    "run": {"console", "engine", "io", "model", "study", "table"},
    "answer": {"console", "document", "engine", "figures", "io", "jet", "model", "run", "study", "table"},
    "app": {"answer", "console", "document", "engine", "figures", "io", "model", "run", "study", "table"},
    "page": {"app", "console", "io", "run", "study"},
}
# Libraries behind each layer; the C++ standard library and fmt are free to all, the system's headers to few.
LIBRARIES = {
    "model": r"(unsupported/)?Eigen/|boost/math/",
    "solver": r"(unsupported/)?Eigen/|boost/(math|numeric)/",
    "jet": r"Eigen/",
    "engine": r"Eigen/|boost/(math|random)/",
    "io": r"nlohmann/|udunits2\.h$|sys/stat\.h$",
    "study": r"Eigen/|boost/(math|random)/|nlohmann/",
    "figures": r"cairo(-pdf)?\.h$|librsvg/rsvg\.h$|dlfcn\.h$",
    "table": r"nlohmann/|sqlite3\.h$|zip\.h$|pugixml\.hpp$|(sys/(file|ioctl|random|stat)|fcntl|stdlib|unistd)\.h$",
    "document": r"nlohmann/",
    "console": r"(sys/ioctl|unistd)\.h$",
    "run": r"nlohmann/|oneapi/tbb/|(malloc|unistd)\.h$",
    "answer": r"nlohmann/|unistd\.h$",
    "app": r"nlohmann/|CLI/CLI\.hpp$|oneapi/tbb/|boost/version\.hpp$|cairo(-pdf)?\.h$|librsvg/rsvg\.h$|sqlite3\.h$"
           r"|(sys/(file|ioctl|random|stat)|fcntl|stdlib|unistd)\.h$",
    "page": r"nlohmann/|fmt/",
}
# Libraries that a single file, or a few, stand for: nobody else may come to lean on them.
ONLY_IN = {
    "CLI/": r"app/main\.cpp$",
    "udunits2.h": r"io/unit_database\.cpp$",
    "sqlite3.h": r"table/sweep_database\.cpp$|app/build_info\.cpp$",
    "zip.h": r"table/workbook\.cpp$",
    "pugixml": r"table/workbook\.cpp$",
    "cairo": r"figures/rsvg_library\.hpp$|app/build_info\.cpp$",
    "librsvg/": r"figures/rsvg_library\.hpp$|app/build_info\.cpp$",
    "oneapi/": r"(run/(parallel|sweep_run)|app/build_info)\.cpp$",
}
INCLUDE = re.compile(r'^[ \t]*#[ \t]*include[ \t]*([<"])([^>"]+)[>"]')


def breach(file, bracket, header, installed):
    """Why FILE (below src) may not include HEADER; None if it may."""
    layer, _, name = file.partition("/")
    if header.startswith("whorl/"):
        header = header.removeprefix("whorl/")
        if header not in installed:
            return "whorl/ stands before installed headers only (HEADERS in src/ROOM/CMakeLists.txt)"
    elif header in installed:
        return "an installed header is included as its users do, with whorl/ in front"
    elif file in installed and bracket == '"':
        return "an installed header includes installed ones only"
    if layer == "precompiled":  # what the sources of a layer read anyway: same walls
        layer = name.removesuffix(".hpp")
        if bracket == '"':
            return None if header == "precompiled/standard.hpp" else "a precompiled header holds no header of ours"
        if layer == "standard":
            other = "/" in header or header.endswith(".h")
            return "the list for all layers holds the standard library only" if other else None
    if layer not in ALLOWED:
        return f"'{layer}' is no layer this test knows: say in tests/walls/walls.py what it may include"
    target = header.partition("/")[0]
    if target in ALLOWED:
        if target == layer or target in ALLOWED[layer]:
            return None if bracket == '"' else "headers of ours are included with quotes"
        return f"{layer} may include {', '.join(sorted(ALLOWED[layer] | {layer}))} only"
    if bracket == '"':
        return "an include in quotes begins with its layer"
    if re.fullmatch(r"[a-z0-9_]+", header):
        return None  # standard library
    if header == "fmt/core.h":
        return None if file.endswith(".cpp") else "headers stay free of fmt"
    for library, files in ONLY_IN.items():
        if header.startswith(library) and not re.match(files, file):
            return f"{library.rstrip('/')} stands behind src/{files.rstrip('$')} alone"
    return None if re.match(LIBRARIES[layer], header) else f"{layer} stands on none of this library"


def breaches(files, installed):
    """One line for every wall that FILES (name below src, text) cross; INSTALLED are the headers that users may include."""
    found = []
    for file, text in files:
        for number, line in enumerate(text.splitlines(), 1):
            include = INCLUDE.match(line)
            why = include and breach(file, *include.groups(), installed)
            if why:
                found.append(f"src/{file}:{number}: {line.strip()}\n    {why}")
    return found


def check_itself():
    """Each wall, crossed once on purpose, and what is allowed."""
    crossed = [
        ("model/a.cpp", '#include "solver/root.hpp"'), ("model/a.cpp", '#include "engine/setup.hpp"'),
        ("model/a.hpp", "#include <nlohmann/json.hpp>"), ("solver/a.hpp", '#include "model/case.hpp"'),
        ("engine/a.cpp", '#include "io/csv.hpp"'), ("engine/a.cpp", '  #  include "app/commands.hpp"'),
        ("engine/a.cpp", "#include <CLI/CLI.hpp>"), ("io/a.cpp", '#include "engine/estimate.hpp"'),
        ("io/a.cpp", "#include <app/door.hpp>"), ("io/a.cpp", "#include <engine/setup.hpp>"),
        ("page/a.cpp", '#include "solver/root.hpp"'), ("app/a.cpp", '#include "solver/root.hpp"'),
        ("model/a.cpp", '#include "air.hpp"'), ("model/a.cpp", '#include "../solver/root.hpp"'),
        ("model/a.cpp", "#include <model/air.hpp>"), ("app/window.cpp", "#include <CLI/CLI.hpp>"),
        ("loom/a.cpp", '#include "model/air.hpp"'), ("precompiled/model.hpp", "#include <nlohmann/json.hpp>"),
        ("precompiled/io.hpp", '#include "io/csv.hpp"'), ("precompiled/standard.hpp", "#include <Eigen/Core>"),
        ("model/a.cpp", "#include <unistd.h>"), ("engine/a.cpp", '#include "model/open.hpp"'),
        ("engine/a.cpp", '#include "whorl/model/air.hpp"'), ("model/open.hpp", '#include "model/air.hpp"'),
        ("engine/a.cpp", "#include <whorl/model/open.hpp>"), ("io/a.hpp", "#include <fmt/core.h>"),
    ]
    allowed = [
        ("model/a.cpp", '#include "model/air.hpp"\n#include <cmath>\n#include <fmt/core.h>\n#include <Eigen/Core>'),
        ("engine/a.cpp", '#include "model/air.hpp"\n#include "solver/root.hpp"\n#include <boost/random/sobol.hpp>'),
        ("io/a.cpp", '#include "model/case.hpp"\n// #include "engine/setup.hpp" is not for io\n#include <string_view>'),
        ("app/main.cpp", '#include <CLI/CLI.hpp>\n#include "app/door.hpp"\n#include "engine/setup.hpp"'),
        ("precompiled/engine.hpp", '#include "precompiled/standard.hpp"\n#include <Eigen/Core>'),
        ("engine/a.cpp", '#include "whorl/model/open.hpp"'), ("model/open.hpp", '#include "whorl/model/open.hpp"'),
    ]
    for one in crossed:
        assert len(breaches([one], {"model/open.hpp"})) == 1, f"not seen: {one}"
    assert not breaches(allowed, {"model/open.hpp"}), breaches(allowed, {"model/open.hpp"})


def installed_headers(source):
    """ROOM/NAME.hpp of every list HEADERS in src/ROOM/CMakeLists.txt."""
    found = set()
    for lists in source.glob("*/CMakeLists.txt"):
        for block in re.findall(r"\n *HEADERS\n((?: *\S+\.hpp\n)+)", lists.read_text(encoding="utf-8")):
            found |= {f"{lists.parent.name}/{header}" for header in block.split()}
    return found


def main():
    check_itself()
    source = pathlib.Path(sys.argv[1]) / "src"
    names = sorted(p for p in source.rglob("*") if p.suffix in (".cpp", ".hpp") and p.is_file())
    files = [(p.relative_to(source).as_posix(), p.read_text(encoding="utf-8")) for p in names]
    layers = {file.partition("/")[0] for file, _ in files}
    missing = set(ALLOWED) - layers
    installed = installed_headers(source)
    found = breaches(files, installed)
    if len(files) < 100 or len(installed) < 25 or missing:
        found.append(f"{len(files)} files, {len(installed)} installed headers below {source.name}, "
                     f"missing layers {sorted(missing)}: nothing to judge")
    print("\n".join(found) if found else f"{len(files)} files, {len(layers)} folders: no include crosses a wall")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
