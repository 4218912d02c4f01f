#include "whorl/study/magnitudes.hpp"

#include <algorithm>
#include <utility>
#include <vector>

namespace whorl::study {
namespace {

std::vector<std::string>& remembered() {
  static std::vector<std::string> texts;
  return texts;
}

}  // namespace

void note_magnitude(std::string text) {
  auto& texts = remembered();
  if (std::find(texts.begin(), texts.end(), text) == texts.end()) texts.push_back(std::move(text));
}

std::vector<std::string> take_magnitudes() { return std::exchange(remembered(), {}); }

}  // namespace whorl::study
