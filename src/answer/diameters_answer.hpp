// What `whorl diameters` says of one list of measured diameters.
#pragma once
#include <string>
#include <vector>

#include "document/document.hpp"
#include "whorl/io/diameters.hpp"
#include "whorl/model/diameters.hpp"
#include "whorl/model/result.hpp"

namespace whorl::answer {

/// A list beside an estimate.
struct DiameterComparison {
  bool made{};
  std::string reason;
  double model_mean_m{}, model_sd_m{};
  double ratio{};      ///< measured mean / model mean
  double distance{};   ///< Kolmogorov, shapes and position
  double scatter_m{};  ///< measured sd that the run does not explain
  bool two{};          ///< both answers have a diameter
  double prior{};      ///< of torn threads, before this list
  double thread_m{}, line_m{};
  model::PopulationChoice choice;  ///< first: torn threads
};
[[nodiscard]] DiameterComparison compare_diameters(const model::Estimate& estimate,
                                                   const model::DiameterSummary& summary,
                                                   const std::vector<double>& values_m);

/// `comparison` null: there is no estimate to compare with.
[[nodiscard]] document::Section diameters_section(const io::DiameterList& list, const model::DiameterSummary& summary,
                                                  const DiameterComparison* comparison, const std::string& case_name);

}  // namespace whorl::answer
