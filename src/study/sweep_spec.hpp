// What is varied in a sweep: from the command line ("--vary") or from the "sweep" block of a case file.
#pragma once
#include <cstdint>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <vector>

#include "whorl/engine/design.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::study {

/// One varied key. The axis is in the display unit of the key: the values of a sweep are the texts of its CSV cells.
struct SweptKey {
  const io::Key* key{};
  engine::Axis axis;
};

struct SweepSpec {
  std::vector<SweptKey> keys;
  engine::DesignKind design{engine::DesignKind::grid};
  std::uint64_t points{};  ///< of a Latin hypercube or Sobol design
  std::uint64_t seed{1};
};

/// Parses one "KEY=FROM..TO:POINTS [log]" or "KEY=VALUE, VALUE, ...".
/// Error: InputError naming the option, the key, the text and an example.
/// `option`: its name in messages.
[[nodiscard]] SweptKey parse_vary(const std::string& text, const std::string& option = "--vary");

/// Parses {KEY: {"from", "to", "points", "spacing"} or [VALUE, ...], ...}; `where` is the path of this object in
/// messages.
/// Error: as parse_sweep_block().
[[nodiscard]] std::vector<SweptKey> parse_vary_object(const nlohmann::ordered_json& vary, const std::string& file,
                                                      const std::string& where);

/// Parses the "sweep" block: {"vary": {KEY: {"from", "to", "points", "spacing"} or [VALUE, ...]}, "design", "points",
/// "seed"}.
/// Error: InputError naming `file` and the key.
[[nodiscard]] SweepSpec parse_sweep_block(const nlohmann::ordered_json& block, const std::string& file);

/// "grid", "latin-hypercube", "sobol".
[[nodiscard]] engine::DesignKind parse_design(const std::string& text, const std::string& file, const std::string& key);

/// Options that replace parts of a case's block.
struct SpecOverrides {
  std::vector<std::string> vary;  ///< not empty: the block of the case is not used at all
  std::optional<std::string> design;
  std::optional<std::uint64_t> points;
  std::optional<std::uint64_t> seed;
};

/// Joins block (may be empty) and command line.
/// Error: InputError when nothing is varied.
[[nodiscard]] SweepSpec combine(std::optional<SweepSpec> block, const SpecOverrides& overrides,
                                const std::string& file);

/// Checks that the parts fit together and builds the design.
/// Error: InputError: a key varied twice, no number of points, too many points, whole numbers missed, ...
[[nodiscard]] engine::Design make_design(const SweepSpec& spec, const std::string& file);

/// The cases of a design, in its order.
[[nodiscard]] std::vector<model::CaseInput> cases_of(const SweepSpec& spec, const engine::Design& design,
                                                     const model::CaseInput& base);

/// One line per key for people and for the identity of a sweep: "rotation_speed_rpm: 4000 to 12000 in 9 steps, linear".
[[nodiscard]] std::string axis_text(const SweptKey& key, engine::DesignKind design);

}  // namespace whorl::study
