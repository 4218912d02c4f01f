// The one function that the page calls: a command line with its files in, what it printed and wrote out. The
// program behind it is src/app/main.cpp
// itself, so page and command line cannot part ways over options, defaults, limits or numbers.
#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "console/page.hpp"
#include "run/progress.hpp"
#include "whorl/study/loaded_case.hpp"

int whorl_main(int argc, char** argv);  // main() of src/app/main.cpp, renamed by the build

namespace {

using Json = nlohmann::ordered_json;
namespace files = std::filesystem;

/// What a command prints, caught for the time of one call.
class Caught {
 public:
  explicit Caught(std::ostream& stream) : stream_(stream), before_(stream.rdbuf(text_.rdbuf())) {}
  Caught(const Caught&) = delete;
  Caught& operator=(const Caught&) = delete;
  ~Caught() {
    stream_.rdbuf(before_);
    stream_.clear();
  }
  [[nodiscard]] std::string text() const { return text_.str(); }

 private:
  std::ostringstream text_;
  std::ostream& stream_;
  std::streambuf* before_;
};

/// Nobody watches a terminal here: without one there is no line of progress, and no thread that draws it.
void close_the_terminal() {
  static const bool closed = std::freopen("/dev/null", "w", stdout) != nullptr &&
                             std::freopen("/dev/null", "w", stderr) != nullptr;
  (void)closed;
}

/// A command line starts from nothing: no files of the one before.
void forget_the_last_call(const files::path& folder) {
  whorl::run::use_progress(false);
  files::current_path("/");
  files::remove_all(folder);
  files::create_directories(folder);
  files::current_path(folder);
}

Json run(const Json& request) {
  const files::path folder = "/job";
  close_the_terminal();
  forget_the_last_call(folder);
  const Json given = request.value("files", Json::object());
  for (const auto& [name, text] : given.items()) {
    const std::string bytes = text.get<std::string>();
    std::ofstream file(files::path(name).filename(), std::ios::binary);
    file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
  }
  std::vector<std::string> words{"whorl"};
  for (const auto& word : request.at("args")) words.push_back(word.get<std::string>());
  std::vector<char*> pointers;
  for (auto& word : words) pointers.push_back(word.data());
  Json answer;
  {
    const Caught out(std::cout);
    const Caught err(std::cerr);
    answer["exit"] = whorl_main(static_cast<int>(words.size()), pointers.data());
    answer["out"] = out.text();
    answer["err"] = err.text();
  }
  Json written = Json::object();
  const Json wanted = request.value("read", Json::array());
  for (const auto& name : wanted) {
    const files::path path = files::path(name.get<std::string>()).filename();
    std::ifstream file(path, std::ios::binary);
    if (!file) continue;
    std::string bytes(static_cast<std::size_t>(files::file_size(path)), '\0');
    file.read(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    written[name.get<std::string>()] = std::move(bytes);
  }
  answer["files"] = std::move(written);
  return answer;
}

std::string& answer() {
  static std::string text;
  return text;
}

}  // namespace

extern "C" {

/// {"args": ["estimate", "case.json", "--json"], "files": {"case.json": "..."}, "read": ["jet.csv"]}
/// -> {"exit": 0, "out": "...", "err": "...", "files": {"jet.csv": "..."}}. The text stays valid until the next call.
const char* whorl_run(const char* request) {
  Json result;
  try {
    result = run(Json::parse(request));
  } catch (const std::exception& error) {
    result = {{"exit", whorl::console::kNotMet}, {"out", ""}, {"err", std::string("whorl: ") + error.what()}};
    result["files"] = Json::object();
  }
  answer() = result.dump(-1, ' ', false, Json::error_handler_t::replace);
  return answer().c_str();
}
}
