// SHA-256 digest (FIPS 180-4), to tell whether two cases are the same. Not used for secrets.
#pragma once
#include <string>
#include <string_view>

namespace whorl::io {

/// 64 lower-case hexadecimal digits.
[[nodiscard]] std::string sha256_hex(std::string_view data);

}  // namespace whorl::io
