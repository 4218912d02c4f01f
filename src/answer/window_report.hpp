// What a search for a window found, for people, for machines and as tables.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "document/document.hpp"
#include "whorl/study/window_search.hpp"

namespace whorl::answer {

inline constexpr double kToGramsPerHour = 3.6e6;

/// Format: docs/formats/window.md.
[[nodiscard]] nlohmann::ordered_json window_json(const study::LoadedCase& loaded, const study::WindowResult& result);
[[nodiscard]] document::Document window_document(const study::LoadedCase& loaded, const study::WindowResult& result);
/// What a constraint asks for: "dry diameter at most 3 um".
[[nodiscard]] std::string wording(const study::WindowConstraint& constraint, const study::WindowTarget& target);
/// Writes a table and its metadata.
/// Error: InputError, OutputError; nothing has changed then
void write_window_points(const study::LoadedCase& loaded, const study::WindowResult& result, const std::string& path,
                         bool force);
void write_window_boundary(const study::LoadedCase& loaded, const study::WindowResult& result, const std::string& path,
                           bool force);

}  // namespace whorl::answer
