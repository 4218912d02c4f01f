#include "whorl/study/magnitudes.hpp"

#include <algorithm>
#include <mutex>
#include <utility>
#include <vector>

namespace whorl::study {
namespace {

// Cases may be loaded on several threads of a program that uses the library.
struct Remembered {
  std::mutex mutex;
  std::vector<std::string> texts;
};

Remembered& remembered() {
  static Remembered all;
  return all;
}

}  // namespace

void note_magnitude(std::string text) {
  Remembered& all = remembered();
  const std::lock_guard<std::mutex> lock(all.mutex);
  if (std::find(all.texts.begin(), all.texts.end(), text) == all.texts.end()) all.texts.push_back(std::move(text));
}

std::vector<std::string> take_magnitudes() {
  Remembered& all = remembered();
  const std::lock_guard<std::mutex> lock(all.mutex);
  return std::exchange(all.texts, {});
}

}  // namespace whorl::study
