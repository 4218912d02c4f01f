#include "app/magnitudes.hpp"

#include <algorithm>
#include <ostream>
#include <utility>
#include <vector>

#include "app/page.hpp"

namespace whorl::app {
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

void say_magnitudes(std::ostream& err) {
  for (const std::string& text : std::exchange(remembered(), {})) err << message_text("whorl: unusual: " + text) << '\n';
}

}  // namespace whorl::app
