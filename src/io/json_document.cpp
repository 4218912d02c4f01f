#include "io/json_document.hpp"

#include <algorithm>
#include <cctype>
#include <array>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <set>
#include <utility>
#include <vector>

#include "io/files_read.hpp"
#include "io/unit_text.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

[[noreturn]] void fail(const std::string& file, const std::string& found, const std::string& allowed) {
  throw InputError(file, "", found, allowed);
}

/// Offset of the first byte that is not part of well-formed UTF-8; npos when all is well. (Unicode 15, table 3-7.)
std::size_t first_bad_byte(std::string_view text) {
  const auto at = [&](std::size_t i) { return static_cast<unsigned>(static_cast<unsigned char>(text[i])); };
  std::size_t i = 0;
  while (i < text.size()) {
    const unsigned first = at(i);
    std::size_t more = 0;
    unsigned low = 0x80, high = 0xBF;
    if (first < 0x80) {
      ++i;
      continue;
    }
    if (first >= 0xC2 && first <= 0xDF) {
      more = 1;
    } else if (first >= 0xE0 && first <= 0xEF) {
      more = 2;
      if (first == 0xE0) low = 0xA0;
      if (first == 0xED) high = 0x9F;
    } else if (first >= 0xF0 && first <= 0xF4) {
      more = 3;
      if (first == 0xF0) low = 0x90;
      if (first == 0xF4) high = 0x8F;
    } else {
      return i;
    }
    for (std::size_t k = 1; k <= more; ++k) {
      if (i + k >= text.size() || at(i + k) < low || at(i + k) > high) return i;
      low = 0x80;
      high = 0xBF;
    }
    i += more + 1;
  }
  return std::string_view::npos;
}

std::string line_and_column(std::string_view text, std::size_t offset) {
  const std::string_view before = text.substr(0, std::min(offset, text.size()));
  const auto lines = std::count(before.begin(), before.end(), '\n');
  const std::size_t newline = before.rfind('\n');
  const std::size_t start = newline == std::string_view::npos ? 0 : newline + 1;
  return "line " + std::to_string(lines + 1) + ", column " + std::to_string(before.size() - start + 1);
}

void check_encoding(std::string_view text, const std::string& name) {
  const std::string utf8 = "JSON text in UTF-8 without byte order mark";
  const auto begins = [&](std::string_view mark) { return text.substr(0, mark.size()) == mark; };
  using namespace std::string_view_literals;
  if (begins("\xFF\xFE\0\0"sv) || begins("\0\0\xFE\xFF"sv)) fail(name, "file is UTF-32", utf8);
  if (begins("\xFF\xFE"sv) || begins("\xFE\xFF"sv)) fail(name, "file is UTF-16", utf8);
  if (begins("\xEF\xBB\xBF"sv)) fail(name, "file begins with a byte order mark", utf8);
  if (text.find('\0') != std::string_view::npos) {
    const bool wide = text.size() >= 2 && (text[0] == '\0') != (text[1] == '\0');
    fail(name, wide ? "file is UTF-16 without byte order mark" : "file is binary (contains zero bytes)", utf8);
  }
  if (const std::size_t bad = first_bad_byte(text); bad != std::string_view::npos)
    fail(name, "file is not UTF-8 (" + line_and_column(text, bad) + "; Latin-1?)", utf8);
}

}  // namespace

std::string read_text_file(const std::string& path, Named named) {
  return read_bounded_file(path, kLargestFile, "a JSON file", named);
}

std::string read_bounded_file(const std::string& path, std::size_t largest, const std::string& what, Named named) {
  // The kind is asked for before the file is opened: opening a pipe can wait for ever.
  std::error_code ignored;
  const auto kind = std::filesystem::status(path, ignored).type();
  using Kind = std::filesystem::file_type;
  if (kind == Kind::directory) fail(path, "is a folder", what);
  if (kind == Kind::character || kind == Kind::block || kind == Kind::socket)
    fail(path, "is a device or a socket", what);
  if (kind == Kind::fifo && named != Named::by_user) fail(path, "is a pipe", what + " on the disk");
  errno = 0;
  std::ifstream stream(path, std::ios::binary);
  if (!stream) {
    const std::string reason = errno != 0 ? std::strerror(errno) : "unknown reason";
    fail(path, "cannot be opened (" + reason + ")", what + " that exists and may be read");
  }
  // By the piece: most files are small.
  std::string text;
  std::array<char, 16384> piece{};
  while (stream && text.size() <= largest) {
    stream.read(piece.data(), static_cast<std::streamsize>(piece.size()));
    text.append(piece.data(), static_cast<std::size_t>(stream.gcount()));
  }
  if (named != Named::earlier_output) note_file_read(path);
  if (stream.bad()) fail(path, "cannot be read", "a readable file");
  if (text.size() > largest) {
    const std::string limit = std::to_string(largest >> 20U) + " MiB";
    fail(path, "file is larger than " + limit, what + " of at most " + limit);
  }
  return text;
}

Document parse_document(std::string_view text, const std::string& name) {
  if (text.size() > kLargestFile) fail(name, "text is larger than 1 MiB", "JSON of at most 1 MiB");
  const std::string json = "one JSON object, e.g. {\"whorl_case\": 1, ...}";
  check_encoding(text, name);
  if (text.find_first_not_of(" \t\r\n") == std::string_view::npos) fail(name, "file is empty", json);

  std::vector<std::set<std::string>> seen;
  std::vector<std::string> path;  // last key read at each level, for the message
  const Document::parser_callback_t watch = [&](int depth, Document::parse_event_t event, Document& parsed) {
    using Event = Document::parse_event_t;
    if (event == Event::object_start || event == Event::array_start) {
      if (depth >= kDeepest)
        fail(name, "is nested deeper than " + std::to_string(kDeepest) + " levels", "a case has at most four");
      if (event == Event::object_start) {
        seen.emplace_back();
        path.emplace_back();
      }
    } else if (event == Event::object_end) {
      seen.pop_back();
      path.pop_back();
    } else if (event == Event::key) {
      const auto key = parsed.get<std::string>();
      path.back() = key;
      if (!seen.back().insert(key).second) {
        std::string full;
        for (const std::string& part : path) full += (full.empty() ? "" : ".") + part;
        throw InputError(name, key_text(full), "key is given twice", "each key once");
      }
      if (seen.back().size() > kMostKeys)
        fail(name, "has more than " + std::to_string(kMostKeys) + " keys in one object", "fewer keys");
    }
    return true;
  };
  try {
    return Document::parse(text.begin(), text.end(), watch);
  } catch (const Document::parse_error& error) {
    // The message of the parser names tokens of its grammar; say it in our words, with the place.
    const std::string_view body = text.substr(0, text.find_last_not_of(" \t\r\n") + 1);
    if (error.byte > body.size())
      fail(name, "JSON ends too early (" + line_and_column(text, body.size()) + "); truncated?", "complete JSON");
    const std::size_t offset = error.byte == 0 ? 0 : error.byte - 1;
    const std::string at = line_and_column(text, offset);
    std::size_t start = offset;
    while (start > 0 && (std::isalpha(static_cast<unsigned char>(text[start - 1])) != 0)) --start;
    const std::string_view token = text.substr(start, 8);
    for (const std::string_view word : {"NaN", "nan", "Inf", "inf", "-Inf", "-inf"})
      if (token.substr(0, word.size()) == word)
        fail(name, "NaN and infinity are no JSON numbers (" + at + ")", "finite numbers");
    if (text[offset] == '/' || text[offset] == '#')
      fail(name, "comments are not part of JSON (" + at + ")", "a \"purpose\" line for remarks");
    if (text[offset] == '}' || text[offset] == ']') {
      const std::size_t before = offset == 0 ? std::string_view::npos : text.find_last_not_of(" \t\r\n", offset - 1);
      if (before != std::string_view::npos && text[before] == ',')
        fail(name, "comma before a closing bracket (" + at + ")", "a comma between entries only");
    }
    fail(name, "is not valid JSON (" + at + ")", "JSON: double quotes round keys and texts, a comma between entries");
  } catch (const Document::out_of_range&) {
    fail(name, "has a number too large for a double", "finite numbers");
  }
}

void check_format_version(const Document& document, const std::string& version_key, const std::string& what,
                          const std::string& file) {
  const std::string allowed = "\"" + version_key + "\": 1";
  if (!document.is_object()) fail(file, "is " + shown(document) + ", not a JSON object", "an object with " + allowed);
  const auto found = document.find(version_key);
  if (found == document.end()) throw InputError(file, version_key, "key is missing: is this " + what + "?", allowed);
  if (!found->is_number_integer())
    throw InputError(file, version_key, shown(*found) + " is no format version", allowed);
  if (*found != 1) {
    const bool newer = found->is_number_unsigned();
    throw InputError(file, version_key,
                     "format version " + found->dump() +
                         (newer && *found > 1 ? " is newer than this program reads" : " does not exist"),
                     allowed);
  }
}

std::string shown(const Document& value) {
  switch (value.type()) {
    case Document::value_t::null: return "null";
    case Document::value_t::object: return "an object";
    case Document::value_t::array: return "a list";
    case Document::value_t::string: return in_quotes(value.get_ref<const std::string&>());
    default: return value.dump();
  }
}

std::string sorted_text(const Document& document) {
  return nlohmann::json(document).dump();
}

std::string text_of(const Document& value, std::size_t longest, const std::string& file, const std::string& key) {
  if (!value.is_string()) throw InputError(file, key, shown(value) + " is no text", "a text in double quotes");
  const auto& text = value.get_ref<const std::string&>();
  if (trimmed(text).empty()) throw InputError(file, key, "is empty", "a text, or leave the key out");
  if (text.size() > longest)
    throw InputError(file, key, "has " + std::to_string(text.size()) + " bytes", "at most " + std::to_string(longest));
  // Text of a file is printed: a control character (also U+0080 to U+009F) could steer the terminal.
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = static_cast<unsigned char>(text[i]);
    const bool second = byte == 0xC2U && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xA0U;
    if (second || byte == 0x7FU || (byte < 0x20U && byte != '\n' && byte != '\r' && byte != '\t'))
      throw InputError(file, key, "contains a control character", "printable text");
  }
  return text;
}

}  // namespace whorl::io
