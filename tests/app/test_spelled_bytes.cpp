// One physical case, however it is spelled, gives the same bytes: page, JSON, profile.
#include <sys/stat.h>

#include <cstdlib>
#include <sstream>

#include "app/commands.hpp"
#include "app/process.hpp"
#include "catch.hpp"
#include "io/spelled_case.hpp"
#include "whorl/model/error.hpp"

TEST_CASE("312 random cases respelled in other units give the same bytes, in text and in JSON") {
  const process::Folder folder;
  for (const char* name : {"/one", "/two"}) REQUIRE(::mkdir((folder.path() + name).c_str(), 0700) == 0);
  testing::SpelledCases cases(18);
  const auto bytes = [&](const std::string& where, std::string text, bool json) {
    text.pop_back();
    text += R"(, "model": {"tier": "inertial", "drying": "lumped"}})";
    whorl::app::EstimateArguments arguments;
    arguments.case_file = folder.path() + where + "/case.json";
    arguments.json = json;
    process::write(arguments.case_file, text);
    std::ostringstream out, err;
    try {
      const int exit = whorl::app::run_estimate(arguments, {out, err});
      return std::to_string(exit) + out.str() + err.str();
    } catch (const whorl::InputError& error) {
      return error.key() + ": " + error.allowed();  // refused, however it is spelled
    }
  };
  const bool full = std::getenv("WHORL_FULL") != nullptr;  // JSON of every twelfth case only by default: it holds runs with other air, too
  int same = 0, refused = 0;
  for (int i = 0; i < 312; ++i) {
    const auto [one, two] = cases.next();
    INFO(one << '\n' << two);
    const std::string page = bytes("/one", one, false);
    bool equal = page == bytes("/two", two, false);
    if (full || i % 12 == 0) {
      const std::string json = bytes("/one", one, true);
      std::string other = bytes("/two", two, true);
      // the folder is the one difference that is left
      for (std::size_t at = other.find("/two/"); at != std::string::npos; at = other.find("/two/")) other.replace(at, 5, "/one/");
      equal = equal && json == other;
    }
    CHECK(equal);
    same += equal ? 1 : 0;
    refused += page.rfind("0CASE", 0) == 0 ? 0 : 1;
  }
  CHECK(same == 312);
  CHECK(refused < 156);
}
