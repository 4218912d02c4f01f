// What the LaTeX writer makes compiles: hostile names, every letter it lets through, and the answers of the commands.
// Where there is no pdflatex (Debian: texlive-latex-base) ctest shows this test as skipped.
#include <cstdlib>
#include <iostream>
#include <string>

#include "app/process.hpp"
#include "catch.hpp"
#include "document/every_command.hpp"
#include "document/hostile.hpp"
#include "document/write.hpp"

using namespace whorl::document;

namespace {

/// Prints what ctest takes as "skipped".
bool latex_is_here() {
  static const bool here = std::system("command -v pdflatex > /dev/null 2>&1") == 0;
  static bool said = false;
  if (!here && !said) std::cout << "skipped: no pdflatex (Debian: texlive-latex-base)\n";
  said = true;
  return here;
}

/// The log where it does not compile, else empty.
std::string complaint(const std::string& latex) {
  const process::Folder folder;
  process::write(folder / "x.tex", latex);
  const std::string command = "cd '" + folder.path() +
                              "' && pdflatex -no-shell-escape -interaction=nonstopmode -halt-on-error x.tex > log 2>&1";
  if (std::system(command.c_str()) == 0 && process::present(folder / "x.pdf")) return {};
  return process::read(folder / "log");
}

std::string utf8(unsigned code) {
  if (code < 0x80) return {static_cast<char>(code)};
  return {static_cast<char>(0xC0U | (code >> 6U)), static_cast<char>(0x80U | (code & 0x3FU))};
}

}  // namespace

TEST_CASE("LaTeX with hostile names and every letter compiles") {
  if (!latex_is_here()) return;
  Document document{"All letters", {}};
  for (unsigned from = 0x20; from < 0x600; from += 0x20) {
    std::string letters;
    for (unsigned code = from; code < from + 0x20; ++code) letters += utf8(code) + ' ';
    document.blocks.emplace_back(Sentence{letters});
  }
  for (const std::string& name : hostile_names()) {
    Quantity row{"", name, name};
    row.source = name;
    document.blocks.emplace_back(Section{name,
                                         "",
                                         {Sentence{name}, List{"", name, {name}, true}, Quantities{{row}},
                                          Table{"", name, {{"", name}, {"", name}}, {{name, 1.0}, {name, 2.0}}}}});
  }
  document.blocks.emplace_back(Equation{"a = b", "a = b", "ab"});
  document.blocks.emplace_back(Figure{"<svg/>", "A figure"});
  CHECK(complaint(write_latex(document)) == "");
  // without the one package that not every LaTeX has
  std::string poorer = write_latex(document);
  const std::string package = "booktabs.sty";
  poorer.replace(poorer.find(package), package.size(), "not-there.sty");
  CHECK(complaint(poorer) == "");
  // a fragment in a document of its own
  CHECK(complaint("\\documentclass{article}\\usepackage[T1]{fontenc}\\usepackage{amsmath,array,longtable}"
                  "\\let\\toprule\\hline\\let\\midrule\\hline\\let\\bottomrule\\hline\\begin{document}\n" +
                  write_latex(document, true) + "\\end{document}\n") == "");
}

#ifdef WHORL_BINARY
TEST_CASE("The answers of the commands compile") {
  if (!latex_is_here()) return;
  const process::Folder folder;
  for (const auto& call : every_command::calls(WHORL_SOURCE_DIR, folder.path())) {
    CAPTURE(call.command);
    int code = 0;
    const std::string latex = every_command::answer(WHORL_BINARY, folder.path(), call, "latex", code);
    INFO(latex);
    REQUIRE(code == 0);
    CHECK(complaint(latex) == "");
  }
  // other answers of the property library
  const std::vector<std::vector<std::string>> commands{
      {"materials"}, {"materials", "PCL"}, {"materials", "chloroform"}, {"materials", "PMMA", "chloroform"}};
  for (std::vector<std::string> command : commands) {
    std::string words;
    for (const std::string& word : command) words += ' ' + word;
    CAPTURE(words);
    command.insert(command.begin(), WHORL_BINARY);
    command.insert(command.end(), {"--format", "latex"});
    REQUIRE(process::finish(process::start(command, folder / "out", folder / "err")) == 0);
    CHECK(complaint(process::read(folder / "out")) == "");
  }
}
#endif
