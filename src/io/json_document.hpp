// Internal to io: text files and JSON documents with one clear error per kind of damage.
#pragma once
#include <cstddef>
#include <nlohmann/json.hpp>
#include <string>
#include <string_view>

namespace whorl::io {

using Document = nlohmann::ordered_json;

inline constexpr std::size_t kLargestFile = 1U << 20U;  ///< bytes
inline constexpr int kDeepest = 32;                     ///< levels of nesting
inline constexpr std::size_t kMostKeys = 1000;          ///< in one object

/// What a path may lead to. A file that a user names may be a pipe (`<(...)`); one that is named inside a file may not,
/// because reading it could wait for ever. Devices never: most of them have no end.
/// The output of an earlier run that this one compares with or goes on with is no input: it may be replaced.
enum class Named { by_user, in_a_file, earlier_output };

/// The whole file, remembered as an input of this command (files_read.hpp). Error: InputError when it is missing, a
/// folder, a device, unreadable or larger than kLargestFile.
[[nodiscard]] std::string read_text_file(const std::string& path, Named named = Named::by_user);

/// The same with another limit, for tables; `what` says what is wanted ("a CSV file").
[[nodiscard]] std::string read_bounded_file(const std::string& path, std::size_t largest, const std::string& what,
                                            Named named);

/// Parses UTF-8 JSON. Error: InputError for empty, truncated, binary, other encodings, duplicate keys, too deep
/// nesting, numbers no double can hold, anything behind the end.
[[nodiscard]] Document parse_document(std::string_view text, const std::string& name);

/// Checks `"name": 1` at the top of the document.
void check_format_version(const Document& document, const std::string& version_key, const std::string& what,
                          const std::string& file);

/// Short quotation of a value for messages: "12000", "a list", "an object".
[[nodiscard]] std::string shown(const Document& value);

/// Compact text with keys sorted at every level.
[[nodiscard]] std::string sorted_text(const Document& document);

/// The string at `key`. Error: InputError when it is no string, empty, or longer than `longest` bytes.
[[nodiscard]] std::string text_of(const Document& value, std::size_t longest, const std::string& file,
                                  const std::string& key);

}  // namespace whorl::io
