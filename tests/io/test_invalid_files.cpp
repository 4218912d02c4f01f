// Every file in tests/data/invalid is refused with the message its index states, by the reader and by the program.
#include <array>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <string>
#include <sys/wait.h>

#include "catch.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/materials.hpp"

using namespace whorl;
using nlohmann::json;

namespace {

const std::string kCases = std::string(WHORL_SOURCE_DIR "/tests/data/invalid/");
const std::string kMaterials = std::string(WHORL_SOURCE_DIR "/tests/data/invalid-materials/");

json index_of(const std::string& folder) {
  std::ifstream stream(folder + "index.json");
  REQUIRE(stream);
  return json::parse(stream);
}

struct Run {
  int exit{};
  std::string output;  ///< both streams
};

Run run(const std::string& arguments, const char* diagnostics = "2>&1") {
  const std::string command = "\"" + std::string(WHORL_BINARY) + "\" " + arguments + " " + diagnostics;
  FILE* pipe = popen(command.c_str(), "r");
  REQUIRE(pipe != nullptr);
  Run result;
  std::array<char, 4096> buffer{};
  for (std::size_t n = 0; (n = fread(buffer.data(), 1, buffer.size(), pipe)) > 0;) result.output.append(buffer.data(), n);
  const int status = pclose(pipe);
  result.exit = WIFEXITED(status) ? WEXITSTATUS(status) : -1;
  return result;
}

std::string in_shell(const std::string& path) { return "'" + path + "'"; }

/// The index lists every file of its folder, and no other.
void check_complete(const std::string& folder, const json& index) {
  std::set<std::string> present, listed;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".json" && entry.path().filename() != "index.json")
      present.insert(entry.path().filename().string());
  for (const auto& [name, says] : index.items()) listed.insert(name);
  CHECK(present == listed);
}

}  // namespace

TEST_CASE("invalid cases are refused with their message", "[io][invalid]") {
  const json index = index_of(kCases);
  CHECK(index.size() >= 40);
  check_complete(kCases, index);
  for (const auto& [name, says] : index.items()) {
    CAPTURE(name);
    std::string message;
    try {
      static_cast<void>(io::read_case_file(kCases + name));
    } catch (const InputError& error) {
      message = error.what();
      CHECK(error.file() == kCases + name);
      CHECK_FALSE(error.found().empty());
      CHECK_FALSE(error.allowed().empty());
    }
    CAPTURE(message);
    CHECK_FALSE(message.empty());
    for (const auto& part : says) {
      CAPTURE(part);
      CHECK(message.find(part.get<std::string>()) != std::string::npos);
    }
  }
}

TEST_CASE("the program refuses every invalid case with exit code 2 and one line", "[io][invalid][cli]") {
  const json index = index_of(kCases);
  for (const auto& [name, says] : index.items()) {
    CAPTURE(name);
    const Run result = run("check " + in_shell(kCases + name));
    CAPTURE(result.output);
    CHECK(result.exit == 2);
    CHECK(result.output.substr(0, 7) == "whorl: ");
    CHECK(result.output.find('\n') == result.output.size() - 1);
    for (const auto& part : says) CHECK(result.output.find(part.get<std::string>()) != std::string::npos);
  }
}

TEST_CASE("invalid materials files are refused with their message", "[io][invalid][materials]") {
  const json index = index_of(kMaterials);
  check_complete(kMaterials, index);
  for (const auto& [name, says] : index.items()) {
    CAPTURE(name);
    model::Library library = io::built_in_library();
    const std::size_t before = library.polymers.size() + library.solvents.size() + library.pairs.size();
    std::string message;
    try {
      io::add_materials_file(library, kMaterials + name);
    } catch (const InputError& error) {
      message = error.what();
    }
    CAPTURE(message);
    CHECK_FALSE(message.empty());
    for (const auto& part : says) {
      CAPTURE(part);
      CHECK(message.find(part.get<std::string>()) != std::string::npos);
    }
    CHECK(library.polymers.size() + library.solvents.size() + library.pairs.size() == before);  // all or nothing
    CHECK(run("materials --add " + in_shell(kMaterials + name)).exit == 2);
  }
}

TEST_CASE("exit codes and streams of the program", "[io][cli]") {
  const std::string good = std::string(WHORL_SOURCE_DIR "/tests/data/good.json");
  CHECK(run("check " + in_shell(good)).exit == 0);
  CHECK(run("check " + in_shell(good) + " " + in_shell(kCases + "empty.json")).exit == 2);
  CHECK(run("check no-such-file.json").exit == 2);
  CHECK(run("check " + in_shell(kCases)).exit == 2);  // a folder
  CHECK(run("check").exit == 2);
  CHECK(run("").exit == 2);
  CHECK(run("no-such-command").exit == 2);
  CHECK(run("check --no-such-option x").exit == 2);
  CHECK(run("--help").exit == 0);
  CHECK(run("--version").exit == 0);
  CHECK(run("--version").output.substr(0, 6) == "whorl ");
  for (const char* command : {"check", "materials"}) {
    const Run help = run(std::string(command) + " --help");
    CHECK(help.exit == 0);
    CHECK(help.output.find("Example:") != std::string::npos);
    CHECK(help.output.find("--json") != std::string::npos);
  }
  // What help offers works: schema and key table are for users with editors and for the documents.
  const std::string help = run("check --help").output;
  for (const char* option : {"--schema", "--key-table"}) {
    CHECK(help.find(option) != std::string::npos);
    CHECK(run(std::string("check ") + option).exit == 0);
  }
  const Run text = run("check --json " + in_shell(good) + " " + in_shell(kCases + "empty.json"), "2>/dev/null");
  const json parsed = json::parse(text.output);
  REQUIRE(parsed.at("cases").size() == 2);
  CHECK(parsed["cases"][0]["ok"] == true);
  CHECK(parsed["cases"][0]["values"]["rotation_speed_rpm"] == 8500.0);
  CHECK(parsed["cases"][0]["values"]["gas_overpressure_MPa"] == 0.05);
  CHECK(parsed["cases"][1]["ok"] == false);
  // A file larger than the limit, made here.
  const auto huge = std::filesystem::temp_directory_path() / "whorl-test-huge.json";
  std::ofstream(huge) << std::string(3U << 20U, ' ');
  const Run refused = run("check " + in_shell(huge.string()));
  CHECK(refused.exit == 2);
  CHECK(refused.output.find("larger than 1 MiB") != std::string::npos);
  std::filesystem::remove(huge);
  CHECK(run("check " + in_shell(good) + " > /dev/full", "2>/dev/null").exit == 1);
}

TEST_CASE("a missing units database is named", "[io][cli]") {
  const Run result = [] {
    setenv("UDUNITS2_XML_PATH", "/nonexistent/udunits2.xml", 1);
    Run made = run("check --set collection_distance='0.1 yard' " +  // a unit that only UDUNITS knows
                   in_shell(std::string(WHORL_SOURCE_DIR "/tests/data/good.json")));
    unsetenv("UDUNITS2_XML_PATH");
    return made;
  }();
  CHECK(result.exit == 2);
  CHECK(result.output.find("UDUNITS2_XML_PATH") != std::string::npos);
  CHECK(result.output.find('\n') == result.output.size() - 1);  // nothing of UDUNITS' own on stderr
}
