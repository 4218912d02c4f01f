// One document in every form: what it says, and that no name from outside can become anything but text.
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>

#include "catch.hpp"
#include "document/hostile.hpp"
#include "document/write.hpp"
#include "whorl/model/error.hpp"

using namespace whorl::document;
using Json = nlohmann::ordered_json;

namespace {

Document sample() {
  Document document{"Two polymers", {}};
  Quantity boiling{"boiling_point_degC", "boiling point", 61.15, "degC"};
  boiling.sd = 0.25;
  boiling.sd_unit = "K";
  boiling.source = "a handbook";
  document.blocks = {Quantities{{boiling,
                                 {"count", "orifices", std::int64_t{1000000}},
                                 {"mixes", "mixes", false},
                                 {"kind", {}, "solvent"},
                                 {"", "for people", "only"},
                                 {"unknown", "unknown", {}},
                                 {"nan", "no number", std::nan("")}}},
                     Sentence{Text("It is ").symbol("d_f", "d_\\mathrm{f}").add(" that counts."), "what_counts"},
                     Section{"Pairs",
                             "pairs",
                             {Table{"list",
                                    "All pairs",
                                    {{"a", "A"}, {"b", "B", "mm"}, {"hidden", {}}, {"", "C"}},
                                    {{"x", 1.5, true, "y"}, {"z", 2.5, false, "w"}}}}},
                     Section{"",
                             "cases",
                             {Section{"First", "", {Quantities{{{"n", "n", 1.0}}}}},
                              Section{"Second", "", {Quantities{{{"n", "n", 2.0}}}}}},
                             true},
                     List{"notes", "note", {"one", "two"}},
                     Equation{"a = b", "a = b", "ab"},
                     Data{R"({"tree": {"leaf": [1, 2]}})"}};
  document.made_by = "whorl";
  return document;
}

std::size_t count(const std::string& text, const std::string& what) {
  std::size_t n = 0;
  for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + what.size())) ++n;
  return n;
}

bool has(const std::string& text, const std::string& what) { return text.find(what) != std::string::npos; }

/// The text without what a backslash protects.
std::string unprotected(const std::string& text) {
  std::string out;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == '\\')
      ++i;
    else
      out += text[i];
  }
  return out;
}

/// Every place where a text from outside may stand.
Document hostile_document(const std::string& name) {
  Document document{name, {}};
  Quantity row{"key", name, name};
  row.behind = name;
  row.source = name;
  document.blocks = {Quantities{{row}}, Sentence{name, "sentence"}, List{"list", name, {name}},
                     Section{name, "section", {Table{"table", name, {{"a", name}, {"b", "B"}}, {{name, 1.0}}}}}};
  document.made_by = name;
  return document;
}

}  // namespace

TEST_CASE("JSON has the keys, and only these") {
  const Json json = json_of(sample());
  const Json expected = Json::parse(R"({
    "boiling_point_degC": {"value": 61.15, "sd": 0.25, "source": "a handbook"}, "count": 1000000, "mixes": false, "kind": "solvent",
    "unknown": null, "nan": null, "what_counts": "It is d_f that counts.",
    "pairs": {"list": [{"a": "x", "b": 1.5, "hidden": true}, {"a": "z", "b": 2.5, "hidden": false}]},
    "cases": [{"n": 1.0}, {"n": 2.0}], "notes": ["one", "two"], "tree": {"leaf": [1, 2]}})");
  CHECK(json == expected);
}

TEST_CASE("Text is aligned, folded and without what is for machines") {
  const std::string text = write_text(sample());
  CHECK(has(text, "boiling point  61.15 degC ± 0.25 K  [a handbook]\n"));
  CHECK(has(text, "orifices       1000000\n"));
  CHECK(has(text, "unknown        -\n"));
  CHECK(has(text, "no number      -\n"));
  CHECK(has(text, "It is d_f that counts.\n"));
  CHECK(has(text, "  A  B [mm]  C\n  x     1.5  y\n  z     2.5  w\n"));
  CHECK(has(text, "a = b    (1)\n"));
  CHECK_FALSE(has(text, "solvent"));
  CHECK_FALSE(has(text, "leaf"));
  CHECK_FALSE(has(text, "nan"));
  for (const std::size_t width : {60U, 80U, 120U}) {
    Document document{"T", {}};
    std::string words;
    for (int i = 0; i < 60; ++i) words += "word ";
    Quantity row{"", "a label", words};
    row.behind = words;
    document.blocks = {Quantities{{row, {"", words, words}}}, Sentence{words}, List{"", "note", {words}},
                       Section{words}, Table{"", words, {{"", "A"}, {"", "B"}}, {{"a", words}}}};
    document.made_by = words;
    std::istringstream lines(write_text(document, width));
    for (std::string line; std::getline(lines, line);) CHECK(line.size() <= width);
  }
}

TEST_CASE("The other forms say the same") {
  const std::string markdown = write_markdown(sample());
  CHECK(has(markdown, "| boiling point | 61.15 degC ± 0.25 K | \\[a handbook\\] |\n"));
  CHECK(has(markdown, "It is $d_\\mathrm{f}$ that counts."));
  CHECK(has(markdown, "| A | B \\[mm\\] | C |\n|---|--:|---|\n| x | 1.5 | y |\n"));
  CHECK(has(markdown, "\n## Pairs\n"));
  CHECK(has(markdown, "$$a = b \\tag{1}$$"));
  const std::string latex = write_latex(sample());
  CHECK(has(latex, "boiling point & 61.15 degC $\\pm$ 0.25 K & {[}a handbook{]} \\\\\n"));
  CHECK(has(latex, "It is $d_\\mathrm{f}$ that counts."));
  CHECK(has(latex, "\\label{eq:ab}"));
  const std::string fragment = write_latex(sample(), true);
  CHECK_FALSE(has(fragment, "documentclass"));
  CHECK(has(latex, fragment));
  const std::string html = write_html(sample());
  CHECK(has(html, "<th scope=\"row\">boiling point</th><td>61.15 degC ± 0.25 K</td>"));
  CHECK(has(html, "It is <i>d_f</i> that counts."));
  CHECK_FALSE(has(html, "leaf"));
  for (const std::string& form : {markdown, latex, html}) CHECK_FALSE(has(form, "solvent"));
}

TEST_CASE("A hostile name stays a name in every form") {
  for (const std::string& name : hostile_names()) {
    CAPTURE(name);
    const Document document = hostile_document(name);
    const Document plain = hostile_document("x");
    const std::string markdown = write_markdown(document);
    const std::string latex = write_latex(document);
    const std::string html = write_html(document);
    for (const std::string& form : {write_text(document, 100000), markdown, latex, html}) {
      for (const char c : form) CHECK((static_cast<unsigned char>(c) >= 0x20 || c == '\n'));
      for (const char* bad : {"\x7f", "\u202E", "\u2066", "\u2028", "\u0085", "\xFF"}) CHECK_FALSE(has(form, bad));
    }
    CHECK(count(write_text(document, 100000), "\n") == count(write_text(plain, 100000), "\n"));
    // no more lines, cells, elements, marks or commands than with the name "x"
    CHECK(count(markdown, "\n") == count(write_markdown(plain), "\n"));
    for (const char* mark : {"|", "`", "*", "<", ">", "$", "[", "]", "~"})
      CHECK(count(unprotected(markdown), mark) == count(unprotected(write_markdown(plain)), mark));
    CHECK(count(html, "<") == count(write_html(plain), "<"));
    CHECK(count(html, "\"") == count(write_html(plain), "\""));
    CHECK(count(latex, "\n") == count(write_latex(plain), "\n"));
    CHECK(count(latex, " & ") == count(write_latex(plain), " & "));
    for (const char* command : {"\\input", "\\write", "\\def", "\\catcode", "\\end{longtable} "})
      CHECK_FALSE(has(latex, command));
    CHECK(json_of(document)["sentence"].get<std::string>() == name);
  }
}

TEST_CASE("A format is one of five words") {
  CHECK(format_of("latex") == Format::latex);
  CHECK_THROWS_AS(format_of("LaTeX"), whorl::InputError);
  CHECK_THROWS_AS(format_of("pdf"), whorl::InputError);
}
