// `whorl calibrate` without --fit: the law of the trials.
#include <nlohmann/json.hpp>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/law_report.hpp"
#include "app/calibrate.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "table/workbook.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

namespace whorl::app {
int learn_from_trials(const CalibrateArguments& arguments, const console::Streams& streams) {
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  run::check_threads(arguments.threads);
  const double stated =
      arguments.reproducibility.empty() ? 0.0 : share_of_text(arguments.reproducibility, "--reproducibility");
  std::optional<study::LoadedCase> loaded;
  const bool table_alone = arguments.data.empty();
  if (!table_alone) loaded = study::load_case(arguments.case_file, arguments.overlay);
  const study::LoadedCase* with = loaded ? &*loaded : nullptr;
  const io::TrialData data = table::read_trials(table_alone ? arguments.case_file : arguments.data, !table_alone);
  check_targets(arguments);
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
  const nlohmann::ordered_json json = report.json();
  write_calibration(arguments, json, streams, exit);
  if (with != nullptr)
    write_residuals(arguments, *with, data,
                    {"diameter of the model alone", "diameter by the law of the trials",
                     "standard deviation of ln(measured) about the law"},
                    report.residuals(), streams, exit);
  if (format == document::Format::json) {
    streams.out << json.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) << '\n';
  } else {
    std::vector<answer::Basis> bases;
    if (with != nullptr) bases.push_back(answer::basis_of(*with));
    bases.push_back({"trials", data.name.substr(data.name.rfind('/') + 1), data.digest, {}});
    answer::write_answer(report.told(), format, arguments.form.fragment, bases, streams.out);
  }
  return exit;
}

}  // namespace whorl::app
