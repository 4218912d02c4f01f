// continuity: turns the numeric keys of a case slowly and prints every step, see tools/continuity.
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <string>
#include <vector>

#include "engine/continuity.hpp"
#include "whorl/io/case_file.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"

using namespace whorl;

int main(int argc, char** argv) {
  testing::WalkOptions options;
  std::vector<std::string> cases, settings, keys;
  for (int i = 1; i < argc; ++i) {
    const bool more = i + 1 < argc;
    if (std::strcmp(argv[i], "--steps") == 0 && more) options.steps = std::atoi(argv[++i]);
    else if (std::strcmp(argv[i], "--set") == 0 && more) settings.emplace_back(argv[++i]);
    else if (std::strcmp(argv[i], "--key") == 0 && more) keys.emplace_back(argv[++i]);
    else cases.emplace_back(argv[i]);
  }
  if (cases.empty() || options.steps < 2) {
    std::fputs("continuity CASE ... [--steps N] [--key PATH] ... [--set KEY=VALUE] ...\n", stderr);
    return 2;
  }
  int unnamed = 0;
  for (const std::string& name : cases) {
    try {
      io::CaseFile file = io::read_case_file(name);
      io::apply_settings(file, settings, "--set");
      std::printf("%s\n", name.c_str());
      std::vector<std::string> left_out;
      std::size_t estimates = 0, unanswered = 0, refused = 0;
      for (const io::Key& key : io::numeric_keys()) {
        if (!keys.empty() && std::none_of(keys.begin(), keys.end(), [&](const std::string& k) { return io::find_key(k) == &key; })) continue;
        options.wanted = [&](const io::Key& k) { return &k == &key; };
        const testing::Walk walk = testing::walk(file.input, io::built_in_library(), options);
        estimates += walk.estimates;
        unanswered += walk.unanswered;
        refused += walk.refused;
        if (walk.unanswered > 0) std::printf("  %s: %zu of %zu settings without an answer\n", std::string(key.path).c_str(), walk.unanswered, walk.estimates);
        left_out.insert(left_out.end(), walk.left_out.begin(), walk.left_out.end());
        for (const testing::Step& step : walk.steps) {
          unnamed += step.event.empty() ? 1 : 0;
          std::printf("  %s\n", testing::text_of(step).c_str());
        }
        std::fflush(stdout);
      }
      std::printf("  %zu estimates, %zu without an answer (%.2f %%), %zu settings refused; keys without a value here:", estimates, unanswered,
                  estimates > 0 ? 100.0 * static_cast<double>(unanswered) / static_cast<double>(estimates) : 0.0, refused);
      for (const std::string& key : left_out) std::printf(" %s", key.c_str());
      std::printf("\n");
    } catch (const InputError& error) {
      std::fprintf(stderr, "continuity: %s\n", error.what());
      return 2;
    }
  }
  std::printf("%d steps without a name\n", unnamed);
  return unnamed == 0 ? 0 : 1;
}
