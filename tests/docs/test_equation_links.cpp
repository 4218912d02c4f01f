// The theory manual, the headers and the tests name the same equations.
#include <algorithm>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "catch.hpp"

namespace {

namespace fs = std::filesystem;

struct File {
  std::string name;  ///< relative to the source tree, '/' between folders
  std::string text;
};
using Files = std::vector<File>;

Files read_files(const std::vector<std::string>& folders, const std::string& extension) {
  const fs::path root{WHORL_SOURCE_DIR};
  Files files;
  for (const auto& folder : folders) {
    for (const auto& entry : fs::recursive_directory_iterator(root / folder)) {
      if (!entry.is_regular_file() || entry.path().extension() != extension) continue;
      std::ifstream in(entry.path(), std::ios::binary);
      std::ostringstream text;
      text << in.rdbuf();
      files.push_back({entry.path().lexically_relative(root).generic_string(), text.str()});
    }
  }
  std::sort(files.begin(), files.end(), [](const File& a, const File& b) { return a.name < b.name; });
  return files;
}

std::vector<std::string> matches(const std::string& text, const std::string& pattern) {
  const std::regex regex(pattern);
  std::vector<std::string> out;
  for (std::sregex_iterator it(text.begin(), text.end(), regex), end; it != end; ++it) out.push_back((*it)[1].str());
  return out;
}

// Code of a header without its comments, so that a name in prose is not taken for a declaration.
std::string code_of(const std::string& text) {
  std::istringstream in(text);
  std::string out;
  for (std::string line; std::getline(in, line);) out += line.substr(0, line.find("//")) + '\n';
  return out;
}

// A function, type or constant of this name is declared in the code.
bool declares(const std::string& code, const std::string& name) {
  return std::regex_search(code, std::regex("(\\b" + name + "\\s*\\()|((struct|class|enum|using)\\s+" + name + "\\b)|(\\b" +
                                            name + "\\s*(=|\\{))"));
}

/// Every fault as one line; empty: all links hold.
std::vector<std::string> broken_links(const Files& headers, const Files& theory, const Files& documents, const Files& tests) {
  std::vector<std::string> faults;
  std::map<std::string, std::set<std::string>> in_headers;  // id -> headers
  for (const auto& header : headers) {
    for (const auto& id : matches(header.text, "\\bEq:\\s*([a-z0-9-]+)")) in_headers[id].insert(header.name);
  }

  struct Block {
    std::string file, text;
  };
  std::map<std::string, std::vector<Block>> in_theory;  // id -> the text from its tag to the next tag or heading of a chapter
  const std::regex tag("\\(eq:([a-z0-9-]+)\\)");
  for (const auto& page : theory) {
    for (std::sregex_iterator it(page.text.begin(), page.text.end(), tag), end; it != end;) {
      const auto here = *it++;
      const auto from = static_cast<std::size_t>(here.position());
      const auto to = it != end ? static_cast<std::size_t>(it->position()) : page.text.size();
      in_theory[here[1].str()].push_back({page.name, page.text.substr(from, to - from)});
    }
  }

  for (const auto& [id, where] : in_headers) {
    const auto found = in_theory.find(id);
    if (found == in_theory.end()) {
      faults.push_back("equation '" + id + "' of " + *where.begin() + " is not in docs/theory");
    } else if (found->second.size() > 1) {
      faults.push_back("equation '" + id + "' is tagged " + std::to_string(found->second.size()) + " times in docs/theory");
    }
  }
  std::map<std::string, std::string> code;
  for (const auto& header : headers) code[header.name] = code_of(header.text);
  // `reference` is no layer of the program: solvers that only the tests have, in tests/reference.
  const std::string name_pattern = "\\b((?:model|solver|jet|engine|io|study|figures|table|document|console|run|answer|app|reference)::[A-Za-z_]\\w*)";
  for (const auto& [id, blocks] : in_theory) {
    const auto found = in_headers.find(id);
    if (found == in_headers.end()) {
      faults.push_back(blocks.front().file + ": equation '" + id + "' is in no header");
      continue;
    }
    // At least one name in its block is declared in a header that carries the id.
    bool computed = false;
    for (const auto& qualified : matches(blocks.front().text, name_pattern)) {
      const std::string name = qualified.substr(qualified.find(':') + 2);
      for (const auto& header : found->second) computed = computed || declares(code[header], name);
    }
    if (!computed) {
      faults.push_back(blocks.front().file + ": equation '" + id + "' names no function of " + *found->second.begin());
    }
  }

  for (const auto& document : documents) {
    std::set<std::string> seen;
    for (const auto& qualified : matches(document.text, name_pattern)) {
      if (!seen.insert(qualified).second) continue;
      const std::string layer = qualified.substr(0, qualified.find(':'));
      const std::string name = qualified.substr(qualified.find(':') + 2);
      const bool there = std::any_of(code.begin(), code.end(), [&](const auto& header) {
        return header.first.rfind((layer == "reference" ? "tests/" : "src/") + layer + "/", 0) == 0 && declares(header.second, name);
      });
      if (!there) faults.push_back(document.name + ": '" + qualified + "' is declared in no header of " + layer);
    }
  }
  for (const auto& test : tests) {
    for (const auto& id : matches(test.text, "\\[eq:([a-z0-9-]+)\\]")) {
      if (in_headers.find(id) == in_headers.end()) faults.push_back(test.name + ": test tag eq:" + id + " is in no header");
    }
  }
  return faults;
}

std::string joined(const std::vector<std::string>& lines) {
  std::string out;
  for (const auto& line : lines) out += line + '\n';
  return out;
}

Files all_documents() {
  Files documents = read_files({"docs"}, ".md");
  // Names in its diffs are not in the tree; `tools/additions --compile` compiles them.
  std::erase_if(documents, [](const File& f) { return f.name.find("additions.md") != std::string::npos; });
  for (const char* name : {"README.md", "DEVELOPERS.md"}) {
    std::ifstream in(fs::path{WHORL_SOURCE_DIR} / name, std::ios::binary);
    REQUIRE(in);
    std::ostringstream text;
    text << in.rdbuf();
    documents.push_back({name, text.str()});
  }
  return documents;
}

}  // namespace

TEST_CASE("Equations, functions and test tags named in docs, headers and tests exist", "[docs]") {
  const Files headers = read_files({"src", "tests/reference"}, ".hpp");
  const Files theory = read_files({"docs/theory"}, ".md");
  Files tests = read_files({"tests"}, ".cpp");
  tests.erase(std::remove_if(tests.begin(), tests.end(),
                             [](const File& f) { return f.name.find("test_equation_links") != std::string::npos; }),
              tests.end());
  REQUIRE(headers.size() > 20);
  REQUIRE(theory.size() >= 6);
  REQUIRE(tests.size() > 10);
  const auto faults = broken_links(headers, theory, all_documents(), tests);
  INFO(joined(faults));
  CHECK(faults.empty());

  // Not a failure, but worth knowing: equations that no test names.
  std::set<std::string> ids;
  std::set<std::string> tested;
  for (const auto& header : headers) {
    for (const auto& id : matches(header.text, "\\bEq:\\s*([a-z0-9-]+)")) ids.insert(id);
  }
  for (const auto& test : tests) {
    for (const auto& id : matches(test.text, "\\[eq:([a-z0-9-]+)\\]")) tested.insert(id);
  }
  std::cout << ids.size() << " equations; without a test of their own:";
  for (const auto& id : ids) {
    if (tested.count(id) == 0) std::cout << ' ' << id;
  }
  std::cout << '\n';
}

TEST_CASE("The check of equation links sees every kind of broken link", "[docs]") {
  const Files headers{{"src/model/a.hpp", "/// Speed.\n/// Eq: speed\ndouble speed_of(double x);\n"},
                      {"src/engine/b.hpp", "inline constexpr double kLimit = 2.0;  // not_code(\n"}};
  const File page{"docs/theory/1.md", "### 1 (eq:speed)\nCode: `whorl::model::speed_of`.\n"};
  const File test{"tests/t.cpp", "TEST_CASE(\"x\", \"[eq:speed]\")"};
  const auto count = [&](const Files& theory, const Files& documents, const Files& tests) {
    return broken_links(headers, theory, documents, tests).size();
  };
  CHECK(count({page}, {page, {"docs/x.md", "`engine::kLimit`"}}, {test}) == 0);
  CHECK(count({}, {}, {}) == 1);                                                                  // equation without a page
  CHECK(count({page, page}, {}, {}) == 1);                                                        // tagged twice
  CHECK(count({{page.name, page.text + "(eq:other) `model::speed_of`"}}, {}, {}) == 1);           // in no header
  CHECK(count({{page.name, "(eq:speed) computed somewhere"}}, {}, {}) == 1);                      // names no function
  CHECK(count({{page.name, "(eq:speed) `engine::kLimit`"}}, {}, {}) == 1);                        // names one of another header
  CHECK(count({page}, {{"docs/x.md", "`whorl::model::speed_off`"}}, {}) == 1);                    // no such function
  CHECK(count({page}, {{"docs/x.md", "`whorl::engine::not_code`"}}, {}) == 1);                    // named in a comment only
  CHECK(count({page}, {{"docs/x.md", "`whorl::engine::speed_of`"}}, {}) == 1);                    // in another layer
  CHECK(count({page}, {}, {{"tests/t.cpp", "\"[eq:sped]\""}}) == 1);                              // test tag of no equation
}

TEST_CASE("Equation numbers are unique, in order, and those referred to exist", "[docs]") {
  std::set<std::string> numbers;
  for (const auto& page : read_files({"docs/theory"}, ".md")) {
    const auto here = matches(page.text, "(?:### |\\*\\*)([0-9]+\\.[0-9]+)(?: [A-Z]|\\*\\*)");
    INFO(page.name);
    REQUIRE_FALSE(here.empty());
    const std::string chapter = here.front().substr(0, here.front().find('.'));
    for (std::size_t i = 0; i < here.size(); ++i) {
      CHECK(here[i] == chapter + '.' + std::to_string(i + 1));
      CHECK(numbers.insert(here[i]).second);
    }
  }
  std::vector<std::string> missing;
  for (const auto& document : all_documents()) {
    for (const auto& number : matches(document.text, "eq\\. ([0-9]+\\.[0-9]+)")) {
      if (numbers.count(number) == 0) missing.push_back(document.name + ": eq. " + number);
    }
  }
  INFO(joined(missing));
  CHECK(missing.empty());
}

TEST_CASE("Links between documents lead to files that exist", "[docs]") {
  const fs::path root{WHORL_SOURCE_DIR};
  std::vector<std::string> faults;
  std::size_t followed = 0;
  for (const auto& document : all_documents()) {
    for (auto target : matches(document.text, "\\]\\(([^)\\s]+)\\)")) {
      target = target.substr(0, target.find('#'));
      if (target.empty() || target.find("://") != std::string::npos) continue;
      ++followed;
      if (!fs::exists(root / fs::path(document.name).parent_path() / target)) faults.push_back(document.name + ": " + target);
    }
  }
  INFO(joined(faults));
  CHECK(faults.empty());
  CHECK(followed > 10);
}

TEST_CASE("The guide explains every warning that the program can give", "[docs]") {
  std::set<std::string> codes;
  for (const auto& source : read_files({"src/model", "src/jet", "src/engine", "src/study"}, ".cpp")) {
    for (const auto& code : matches(source.text, "(?:warn\\(|warnings\\.push_back\\(\\{)\\s*\"([a-z0-9-]+)\"")) codes.insert(code);
  }
  REQUIRE(codes.size() >= 15);
  std::string guide;
  for (const auto& document : all_documents()) {
    if (document.name == "docs/guide.md") guide = document.text;
  }
  for (const auto& code : codes) {
    INFO(code);
    CHECK(guide.find('`' + code + '`') != std::string::npos);
  }
}
