#include "whorl/model/error.hpp"

#include <utility>

#include "whorl/model/printable.hpp"

namespace whorl {
namespace {

std::string compose(const std::string& file, const std::string& key, const std::string& found,
                    const std::string& allowed) {
  std::string text;
  if (!file.empty()) text += file + ": ";
  if (!key.empty()) text += key + ": ";
  text += found;
  if (!allowed.empty()) text += "; allowed: " + allowed;
  return printable(text, Lines::joined);  // a name with a line feed in it must not look like two messages
}

// A hostile file may hold a book where a number belongs: the message does not repeat it. Cut between characters of
// UTF-8.
std::string shortened(std::string text) {
  constexpr std::size_t kLongest = 400;
  if (text.size() <= kLongest) return text;
  std::size_t end = kLongest;
  while (end > 0 && (static_cast<unsigned char>(text[end]) & 0xC0U) == 0x80U) --end;
  return text.substr(0, end) + "...";
}

}  // namespace

InputError::InputError(std::string file, std::string key, std::string found, std::string allowed)
    : std::runtime_error(compose(file, key, shortened(found), allowed)),
      file_(std::move(file)),
      key_(std::move(key)),
      found_(shortened(std::move(found))),
      allowed_(std::move(allowed)) {}

}  // namespace whorl
