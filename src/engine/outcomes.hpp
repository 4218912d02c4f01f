// The two answers, torn threads and one line per orifice: what is seen on the collector in each, and how likely either
// is.
#pragma once
#include "whorl/engine/orifice_flow.hpp"
#include "whorl/model/result.hpp"
#include "whorl/model/splitting.hpp"

namespace whorl::engine {

/// Doubt of ln(a/eps0), the gain at which a jet counts as broken (8 to 16 are in use), and of the gain itself.
/// Source: own judgement
inline constexpr double kThresholdSd = 2.5;
inline constexpr double kGainRelativeSd = 0.25;
/// Doubt of the entanglement number at which strain hardening holds broken liquid together as beads on a string: two
/// schools of M_e differ by 4/5, and onset depends on the solvent.
/// Source: own judgement on Shenoy et al. 2005 (onset at 2, see kFirstFibres)
inline constexpr double kEntanglementLogSd = 0.35;
/// Doubt of the ratio of levelling to drying time, in ln. Source: own judgement
inline constexpr double kLevellingLogSd = 1.5;
/// Doubt of the radius at which a jet floats, in ln: air at rest and air that turns with the wall move it by a factor
/// 0.3 to 2 in most settings, 0.1 to 4 in some (`estimate --full` prints both), and the outward wind of rotor and
/// neighbouring jets is not in the model.
/// Source: own judgement
inline constexpr double kFloatLogSd = 0.5;

/// What becomes of liquid that flies as a jet or a thread.
struct Flown {
  double gain{};              ///< capillary growth until solid or landed
  double threshold{};         ///< breakup_threshold
  double entanglement_number{};
  bool solidified{};          ///< outside at least
  bool solid_throughout{};
  double residual_solvent{};  ///< mass fraction at the collector
  double levelling_over_drying{};
  bool arrives{true};
  double radius_share{};      ///< of a jet that floats: its radius over that of the collector
};
/// Chances: a jet that floats lands where the doubt of its radius reaches the collector; broken when
/// gain exceeds the threshold within their doubts; broken liquid is drops or beads by its entanglement number; what
/// hangs together, even or with beads, is a wet film where it flows together before it dries.
/// Eq: outcome-chances
/// Valid: a judgement of doubts, not frequencies seen
/// Source: own closure; thresholds: Grant & Middleman 1966 and Shenoy et al. 2005
/// (docs/theory/05-break-up-and-class.md)
[[nodiscard]] model::Outcomes chances(const Flown& flown);
/// How what lands keeps its shape: dry (at most 5 wt% solvent), firm, tacky or wet.
[[nodiscard]] model::Landing landing_of(const Flown& flown);
/// Of both answers, threads with this probability.
[[nodiscard]] model::Outcomes mixed(const model::Outcomes& threads, const model::Outcomes& line, double probability);
/// The likeliest class.
[[nodiscard]] model::FibreClass likeliest(const model::Outcomes& outcomes);

/// Class and chances of one line per orifice, with the sentences that say why.
[[nodiscard]] model::Answer judge_line(const Setup& setup, const model::Estimate& estimate,
                                       std::vector<std::string>& why);
/// The same of torn threads.
[[nodiscard]] model::Answer judge_threads(const Setup& setup, const model::Estimate& estimate,
                                          std::vector<std::string>& why);

/// Size, number and flight of the threads at a late moment of the run (with its stations on request); chance of tearing
/// into `chance`.
void report_threads(const Setup& setup, const OrificeSolution& moment, bool keep_profile, model::Estimate& estimate,
                    model::TearingChance& chance);

/// 90 % of laboratories without trials of their own lie within this factor of the size of torn threads, either way.
/// Source: gas-only studies, study by study left out: rms of ln d 0.85 (tools/thread-law)
inline constexpr double kThreadBand = 4.0;

}  // namespace whorl::engine
