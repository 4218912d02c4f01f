// Functions that JavaScript calls. The text they return stays valid until the next call.
#include <string>

#include "explorer/explorer.hpp"

namespace {
std::string& answer() {
  static std::string text;
  return text;
}
}  // namespace

extern "C" {

const char* whorl_describe(const char* case_text, const char* name) {
  answer() = whorl::explorer::describe(case_text, name);
  return answer().c_str();
}

const char* whorl_estimate(const char* case_text, const char* name, int whole_run, int profile) {
  answer() = whorl::explorer::estimate(case_text, name, {whole_run != 0, profile != 0});
  return answer().c_str();
}
}
