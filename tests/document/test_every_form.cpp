// Every command answers in every form; a command that --help lists and this test does not know is a failure.
#include <algorithm>
#include <nlohmann/json.hpp>

#include "catch.hpp"
#include "document/every_command.hpp"

TEST_CASE("Every command of --help has a call here") {
  const process::Folder folder;
  REQUIRE(process::finish(process::start({WHORL_BINARY, "--help"}, folder / "out", folder / "err")) == 0);
  std::vector<std::string> listed = every_command::listed(process::read(folder / "out"));
  std::vector<std::string> known;
  for (const auto& call : every_command::calls(WHORL_SOURCE_DIR, folder.path())) known.push_back(call.command);
  std::erase(listed, "page");  // copies a file of the installation and has no answer to form
  std::sort(listed.begin(), listed.end());
  std::sort(known.begin(), known.end());
  CHECK(listed == known);
}

TEST_CASE("Every command answers as JSON, Markdown, LaTeX and HTML") {
  const process::Folder folder;
  for (const auto& call : every_command::calls(WHORL_SOURCE_DIR, folder.path())) {
    CAPTURE(call.command);
    int code = 0;
    const auto in = [&](const char* form) { return every_command::answer(WHORL_BINARY, folder.path(), call, form, code); };
    const std::string json = in("json");
    INFO(json);
    REQUIRE(code == 0);
    const auto parsed = nlohmann::ordered_json::parse(json, nullptr, false);
    CHECK(parsed.is_object());
    CHECK(parsed.contains("program"));
    const std::string markdown = in("markdown");
    REQUIRE(code == 0);
    CHECK(markdown.rfind("# ", 0) == 0);
    const std::string latex = in("latex");
    REQUIRE(code == 0);
    CHECK(latex.find("\\begin{document}") != std::string::npos);
    CHECK(latex.find("\\end{document}") != std::string::npos);
    const std::string html = in("html");
    REQUIRE(code == 0);
    CHECK(html.rfind("<!doctype html>", 0) == 0);
    CHECK(html.find("<script") == std::string::npos);
    // whatever the form, text says something on one of the two streams
    (void)in("text");
    CHECK(code == 0);
  }
}

TEST_CASE("A fragment asks for LaTeX, a form is asked for once") {
  const process::Folder folder;
  const auto run = [&](std::vector<std::string> words) {
    words.insert(words.begin(), WHORL_BINARY);
    return process::finish(process::start(words, folder / "out", folder / "err"));
  };
  CHECK(run({"materials", "--fragment"}) == 2);
  CHECK(run({"materials", "--json", "--format", "html"}) == 2);
  CHECK(run({"materials", "--format", "word"}) == 2);
}
