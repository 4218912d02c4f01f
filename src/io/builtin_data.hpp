// Internal to io: the files of data/ as compiled into the program (the .cpp is generated at build time).
#pragma once
#include <span>
#include <string>
#include <string_view>

namespace whorl::io {

struct BuiltinFile {
  std::string_view name;
  std::span<const std::string_view> chunks;  ///< compilers limit the length of one literal
  [[nodiscard]] std::string text() const {
    std::string joined;
    for (const std::string_view chunk : chunks) joined += chunk;
    return joined;
  }
};
[[nodiscard]] std::span<const BuiltinFile> builtin_files();

/// Style sheet and script of the report page, in this order.
[[nodiscard]] std::span<const BuiltinFile> report_page_files();

}  // namespace whorl::io
