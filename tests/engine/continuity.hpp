// Steps in what the program says when one key is turned slowly: for a test and for the tool tools/continuity.
#pragma once
#include <cstddef>
#include <functional>
#include <string>
#include <vector>

#include "whorl/io/keys.hpp"
#include "whorl/model/case.hpp"
#include "whorl/model/materials.hpp"
#include "whorl/model/result.hpp"

namespace whorl::testing {

/// More than this between two neighbours counts as a step.
inline constexpr double kFlowStep = 0.05;
inline constexpr double kDiameterStep = 0.10;

/// One place where a number changes by more than its limit between neighbours.
struct Step {
  std::string key;
  std::string number;   ///< "flow", "diameter of the headline", ...
  double below{}, above{};  ///< values of the key between which it lies, display unit; found by halving
  double from{}, to{};      ///< of the number
  std::string event;    ///< what changes its name there, or that both ends of the line stand beside it; empty: nothing explains it
  bool sudden{};        ///< still there after halving: a jump, not a steep slope
};

struct Walk {
  std::size_t estimates{};
  std::size_t unanswered{};  ///< of them, that did not converge
  std::size_t refused{};     ///< settings at which the parts of the case contradict each other; not among the estimates
  std::vector<std::string> keys;     ///< that were turned
  std::vector<std::string> left_out;  ///< keys without a value in this case
  std::vector<Step> steps;
};

struct WalkOptions {
  int steps{400};          ///< over a factor 2 about the value of the case
  int halvings{14};        ///< of the interval of a step
  std::function<bool(const io::Key&)> wanted;  ///< empty: every numeric key
};

/// Turns one key after the other over a factor 2 about its value (in the unit of the case file; a key at 0: from there to its example).
/// Measured properties that the case does not state are set from what the library says of them.
[[nodiscard]] Walk walk(const model::CaseInput& input, const model::Library& library, const WalkOptions& options);

/// "rotation_speed 10213 rpm: flow 0.021 to 0.044 (gas goes through: no, yes)"
[[nodiscard]] std::string text_of(const Step& step);

}  // namespace whorl::testing
