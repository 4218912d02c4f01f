// `whorl calibrate` without --fit: the law of the trials.
#include <nlohmann/json.hpp>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/law_report.hpp"
#include "app/calibrate.hpp"
#include "run/parallel.hpp"
#include "table/whole_file.hpp"
#include "table/workbook.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

}  // namespace

int learn_from_trials(const CalibrateArguments& arguments, const console::Streams& streams) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  run::check_threads(arguments.threads);
  const double stated =
      arguments.reproducibility.empty() ? 0.0 : share_of_text(arguments.reproducibility, "--reproducibility");
  if (arguments.next_trials < 0 || arguments.next_trials > 50)
    throw InputError("", "--next-trials", std::to_string(arguments.next_trials), "0 to 50");
  std::optional<study::LoadedCase> loaded;
  const bool table_alone = arguments.data.empty();
  if (!table_alone) loaded = study::load_case(arguments.case_file);
  const study::LoadedCase* with = loaded ? &*loaded : nullptr;
  const io::TrialData data = table::read_trials(table_alone ? arguments.case_file : arguments.data, !table_alone);
  const table::Existing existing = table::existing_if(arguments.force);
  if (!arguments.output.empty()) table::check_target(arguments.output, "-o", existing);
  if (!arguments.residuals.empty()) table::check_table_target(arguments.residuals, "--residuals", existing);
  run::Progress progress(run::progress_stream(streams.err), run::Expected::about, "steps");
  const study::TrialCalibration calibration(with, data, stated, progress.run_count());
  const answer::LawWishes wishes{arguments.next_trials, arguments.aim, arguments.diameter, arguments.over,
                                 arguments.step};
  answer::LawReport report(wishes, with, data, calibration, progress.run_count());
  if (loaded)
    loaded->file.input.model.discharge_factor *= calibration.flow_factor();  // from here on as laid over a case
  report.suggest();
  progress.stop();
  int exit = calibration.study().misfit().empty() ? console::kDone : console::kNotMet;
  const Json json = report.json();
  if (!arguments.output.empty())
    said_on_failure(streams, exit, [&] {
      table::write_whole_file(arguments.output, "-o", json.dump(2, ' ', false, Json::error_handler_t::replace) + "\n",
                       existing);
    });
  if (!arguments.residuals.empty() && with != nullptr) {
    io::TableMetadata table = answer::table_metadata(*with, "Measured and calculated diameters", arguments.residuals);
    table.facts.emplace_back("trials", data.name.substr(data.name.rfind('/') + 1) + " sha256:" + data.digest);
    table.columns = {{"trial", "string", "", "", "name of the trial", true},
                     {"measured_um", "double", "um", "", "measured mean diameter", true},
                     {"before_um", "double", "um", "", "diameter of the model alone", true},
                     {"after_um", "double", "um", "", "diameter by the law of the trials", true},
                     {"log_sd", "double", "", "", "standard deviation of ln(measured) about the law", true},
                     {"residual", "double", "", "", "ln(measured/after) over log_sd", true}};
    said_on_failure(streams, exit, [&] {
      table::write_whole_table(arguments.residuals, "--residuals", answer::finish_metadata(std::move(table)),
                               report.residuals(), existing);
    });
  }
  if (format == document::Format::json) {
    streams.out << json.dump(2, ' ', false, Json::error_handler_t::replace) << '\n';
  } else {
    std::vector<answer::Basis> bases;
    if (with != nullptr) bases.push_back(answer::basis_of(*with));
    bases.push_back({"trials", data.name.substr(data.name.rfind('/') + 1), data.digest, {}});
    answer::write_answer(report.told(), format, arguments.form.fragment, bases, streams.out);
  }
  return exit;
}

}  // namespace whorl::app
