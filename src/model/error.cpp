#include "model/error.hpp"

#include <utility>

namespace whorl {
namespace {

std::string compose(const std::string& file, const std::string& key, const std::string& found,
                    const std::string& allowed) {
  std::string text;
  if (!file.empty()) text += file + ": ";
  if (!key.empty()) text += key + ": ";
  text += found;
  if (!allowed.empty()) text += "; allowed: " + allowed;
  return text;
}

}  // namespace

InputError::InputError(std::string file, std::string key, std::string found, std::string allowed)
    : std::runtime_error(compose(file, key, found, allowed)),
      file_(std::move(file)),
      key_(std::move(key)),
      found_(std::move(found)),
      allowed_(std::move(allowed)) {}

}  // namespace whorl
