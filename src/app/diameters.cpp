// `whorl diameters`: what a list of measured diameters says, alone and beside an estimate.
#include <optional>
#include <utility>

#include "answer/answer.hpp"
#include "answer/diameters_answer.hpp"
#include "answer/provenance.hpp"
#include "app/commands.hpp"
#include "run/progress.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/trial_calibration.hpp"

namespace whorl::app {
namespace {

// What is compared with, once for all lists.
model::Estimate estimate_to_compare(const study::LoadedCase& loaded, const console::Streams& streams) {
  engine::EstimateOptions options;
  options.band = true;
  run::Progress progress(run::progress_stream(streams.err));
  options.run_count = progress.run_count();
  return study::calibrated_estimate(loaded, loaded.file.input, options);
}

}  // namespace

int run_diameters(const DiametersArguments& arguments, const console::Streams& streams) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  std::optional<study::LoadedCase> loaded;
  if (!arguments.case_file.empty()) loaded = study::load_case(arguments.case_file, arguments.overlay);
  std::vector<answer::Basis> bases;
  if (loaded) bases.push_back(answer::basis_of(*loaded));
  document::Section lists{{}, "lists", {}, true};
  bool compared = true;
  std::optional<model::Estimate> estimate;
  for (const std::string& path : arguments.lists) {
    const io::DiameterList list = io::read_diameter_file(path, {arguments.unit, arguments.column, arguments.decimal});
    bases.push_back({"list", path.substr(path.rfind('/') + 1), list.digest, {}});
    const model::DiameterSummary summary = model::summarise_diameters(list.values_m);
    std::optional<answer::DiameterComparison> comparison;
    if (loaded && !estimate) estimate = estimate_to_compare(*loaded, streams);
    if (estimate) comparison = answer::compare_diameters(*estimate, summary, list.values_m);
    if (comparison && !comparison->made) compared = false;
    lists.blocks.emplace_back(
        answer::diameters_section(list, summary, comparison ? &*comparison : nullptr, loaded ? loaded->file.name : ""));
  }
  document::Text title("Measured diameters");
  if (lists.blocks.size() == 1) title = std::exchange(std::get<document::Section>(lists.blocks.front()).title, {});
  answer::write_answer({title, {lists}}, format, arguments.form.fragment, bases, streams.out);
  return compared ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
