// What `whorl window` looks for and where: from the command line or from the "window" block of a case file.
#pragma once
#include <array>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "whorl/io/case_file.hpp"
#include "whorl/study/sweep_spec.hpp"
#include "whorl/study/window.hpp"

namespace whorl::study {

/// One axis of the plane.
struct PlaneAxis {
  const io::Key* key{};
  double from{}, to{};         ///< display unit
  bool logarithmic{};
  double setting_error{};      ///< display unit, one standard deviation
  std::string error_source;
  bool usual_range{};          ///< not stated: half to one and a half of the case's value, or the like
};

struct WindowSpec {
  WindowTarget target;
  std::array<PlaneAxis, 2> plane;
  std::vector<SweptKey> slices;  ///< further axes: levels, each combination has its plane
};

/// As written, from either place; empty where nothing was said.
struct WindowWishes {
  std::optional<std::string> diameter, fibre_class, landing, least_throughput;
  std::vector<SweptKey> over;
  std::vector<std::pair<const io::Key*, std::string>> setting_errors;
};

/// Reads the "window" block: {"diameter", "class", "landing", "least_throughput", "over": as sweep.vary,
/// "setting_error": {KEY: VALUE}}.
/// Error: InputError naming `file` and the key.
[[nodiscard]] WindowWishes parse_window_block(const nlohmann::ordered_json& block, const std::string& file);

/// As options say it.
struct WindowOptionTexts {
  std::optional<std::string> diameter, fibre_class, landing, least_throughput;
  std::vector<std::string> over;           ///< "KEY=FROM..TO" (plane) or with levels (one plane each)
  std::vector<std::string> setting_error;  ///< "KEY=VALUE"
};
/// What the options say; each replaces that part of the block.
/// Error: InputError naming the option.
[[nodiscard]] WindowWishes parse_window_options(const WindowOptionTexts& options);

/// Joins both with the case and the usual values.
/// Error: InputError: too many axes, an axis twice, ends equal, ...
[[nodiscard]] WindowSpec window_spec(const WindowWishes& block, const WindowWishes& options, const io::CaseFile& file);

/// "1 um..3 um", "..3 um", "1 um..", "2 um ± 0.3 um" in metres.
[[nodiscard]] std::pair<std::optional<double>, std::optional<double>> parse_diameter_range(const std::string& text,
                                                                                           const std::string& file,
                                                                                           const std::string& where);

/// The usual setting error of a key in its display unit, and where it comes from. `middle`: of the range.
[[nodiscard]] std::pair<double, std::string> usual_setting_error(const io::Key& key, double middle);

}  // namespace whorl::study
