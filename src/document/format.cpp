#include <array>
#include <string_view>
#include <utility>

#include "document/write.hpp"
#include "whorl/model/error.hpp"

namespace whorl::document {

Format format_of(const std::string& word) {
  constexpr std::array<std::pair<std::string_view, Format>, 5> kWords{{{"text", Format::text},
                                                                       {"json", Format::json},
                                                                       {"markdown", Format::markdown},
                                                                       {"latex", Format::latex},
                                                                       {"html", Format::html}}};
  for (const auto& [name, format] : kWords)
    if (word == name) return format;
  throw InputError("", "--format", word, "text, json, markdown, latex or html");
}

}  // namespace whorl::document
