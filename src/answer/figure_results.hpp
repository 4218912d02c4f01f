// From the JSON results of `window` and `calibrate` to what figures take.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>

#include "figures/figure_kinds.hpp"

namespace whorl::answer {

/// A calibration file, or what `calibrate --json` printed.
/// Error: InputError naming the file when it is damaged or holds no fit
[[nodiscard]] figures::FitFigure fit_figure(const nlohmann::ordered_json& calibration, const std::string& file);

/// The plane of `window --json` that holds the most tolerant point, else the first.
/// Error: InputError naming the file when it is damaged
[[nodiscard]] figures::WindowFigure window_figure(const nlohmann::ordered_json& window, const std::string& file);

/// The probability of meeting what is wanted over that plane, of `window --uncertainty --json`.
/// Error: InputError as above, or when it holds no probabilities
[[nodiscard]] figures::MapFigure probability_figure(const nlohmann::ordered_json& window, const std::string& file);

}  // namespace whorl::answer
