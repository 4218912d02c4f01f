// The one exception for bad input. Numerics never throw it across the solver boundary: they return a status.
#pragma once
#include <stdexcept>
#include <string>

namespace whorl {

/// Bad input: says where (file, key), what was found and what is allowed.
class InputError : public std::runtime_error {
 public:
  /// `file` or `key` may be empty when they do not apply.
  InputError(std::string file, std::string key, std::string found, std::string allowed);

  [[nodiscard]] const std::string& file() const noexcept { return file_; }
  [[nodiscard]] const std::string& key() const noexcept { return key_; }
  [[nodiscard]] const std::string& found() const noexcept { return found_; }
  [[nodiscard]] const std::string& allowed() const noexcept { return allowed_; }

 private:
  std::string file_;
  std::string key_;
  std::string found_;
  std::string allowed_;
};

}  // namespace whorl
