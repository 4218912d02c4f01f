// `whorl report CASE`: one self-contained HTML page.
#include <charconv>
#include <ostream>

#include "answer/answer.hpp"
#include "answer/figure_data.hpp"
#include "answer/report_opening.hpp"
#include "answer/report_sections.hpp"
#include "app/commands.hpp"
#include "figures/report_page.hpp"
#include "run/parallel.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/whole_file.hpp"
#include "whorl/engine/batch.hpp"
#include "whorl/io/cautions.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/explanation.hpp"

namespace whorl::app {
namespace {

std::pair<int, int> resolution_of(const std::string& text) {
  const std::size_t cross = text.find('x');
  int speeds = 0;
  int pressures = 0;
  const auto number = [&](std::size_t from, std::size_t to, int& value) {
    const auto [end, error] = std::from_chars(text.data() + from, text.data() + to, value);
    return error == std::errc() && end == text.data() + to;
  };
  if (cross == std::string::npos || !number(0, cross, speeds) || !number(cross + 1, text.size(), pressures) ||
      speeds < 2 || pressures < 2 || speeds > 60 || pressures > 60)
    throw InputError("", "--resolution", '"' + text + '"', "SPEEDSxPRESSURES, 2 to 60 each, for example 9x7");
  return {speeds, pressures};
}

}  // namespace

int run_report(const ReportArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  const auto [speeds, pressures] = resolution_of(arguments.resolution);
  const study::LoadedCase loaded = study::load_case(arguments.case_file, arguments.overlay);
  table::check_target(arguments.output, "-o", table::existing_if(arguments.force));
  engine::EstimateOptions options;
  options.band = true;
  options.both_runs = true;
  options.keep_profile = true;
  options.air_variants = options.gas_variants = true;
  run::Progress progress(run::progress_stream(streams.err));
  options.run_count = progress.run_count();
  // before the first of them begins: how long all of it will take
  constexpr std::size_t kTenthMore = 1;
  const std::size_t grid_points =
      arguments.map ? static_cast<std::size_t>(speeds) * static_cast<std::size_t>(pressures) : 0;
  progress.run_count()->expect(study::runs_of_point(loaded.file.input) + kTenthMore + grid_points);
  const model::Estimate estimate = answer::case_estimate(loaded, options);
  const model::Solvent* solvent = loaded.library.solvent(loaded.file.input.solution.solvent);

  figures::ReportPage page;
  page.title = "Spinning estimate: " + answer::case_title(loaded);
  page.lead = loaded.file.input.purpose;
  page.footer = "whorl " WHORL_VERSION ", case " + answer::case_title(loaded) + ", SHA-256 " + loaded.file.hash +
                ", tier " + estimate.tier + ", drying " + estimate.drying_model +
                ". An engineering estimate for planning trials; it replaces no measurement and no risk assessment.";
  std::size_t points = 0;
  model::CaseInput most = loaded.file.input;  // what the case and its map can do: cautions are of all of it
  const answer::EstimateStatement said = answer::estimate_statement(loaded, estimate);
  if (estimate.status != model::Status::done) {
    page.sections.push_back(
        {"result", "Result",
         figures::html_paragraph("Not converged: " + estimate.reason + ". There are no numbers to report.")});
    page.sections.push_back(answer::warning_section(said));
  } else {
    page.sections.push_back(answer::result_section(said));
    page.sections.push_back(answer::warning_section(said));
    try {
      const run::StopSignals stop;
      page.sections.push_back(answer::explanation_section(loaded, estimate, arguments.threads, progress.run_count()));
    } catch (const engine::Interrupted&) {
      return console::kInterrupted;
    }
    page.sections.push_back(answer::figure_section(loaded, estimate, said));
    if (arguments.map) {
      answer::GridOptions grid;
      grid.vary = arguments.vary;
      grid.speeds = speeds;
      grid.pressures = pressures;
      grid.ignore_block = true;
      grid.keep_estimates = true;
      grid.closeness = engine::Closeness::map_point;
      grid.run = false;  // the explorer shows nothing of it
      grid.threads = arguments.threads;
      grid.run_count = progress.run_count();
      grid.announced = true;
      const run::StopSignals signals;
      try {
        const answer::SweepData sweep = answer::computed_sweep(loaded, grid);
        points = sweep.table.rows.size();
        most = answer::at_highest_pressure(loaded, &sweep);
        page.opening = figures::html_opening(answer::report_opening(loaded, estimate, &sweep));
        page.sections.push_back(answer::explorer_section(loaded, estimate, sweep));
      } catch (const engine::Interrupted&) {
        return console::kInterrupted;
      }
    }
    if (page.opening.empty())
      page.opening = figures::html_opening(answer::report_opening(loaded, estimate, nullptr));
    page.sections.push_back(answer::doubt_section(said));
    page.sections.push_back(answer::input_section(loaded, said));
    page.sections.push_back(answer::number_section(said));
  }
  figures::PageSection cautions{"cautions", "Cautions in full", {}};
  page.cautions = {io::caution(most, solvent) + " In full at the end of this page."};
  for (const auto& paragraph : io::full_cautions(most, solvent))
    cautions.html += figures::html_paragraph(paragraph);
  page.sections.push_back(std::move(cautions));

  progress.stop();
  const std::string html = figures::report_html(page);
  table::write_whole_file(arguments.output, "-o", html, table::existing_if(arguments.force));
  if (format != document::Format::text) {
    document::Document written{"Report page " + arguments.output, {}};
    written.blocks.emplace_back(document::Quantities{{
        {"file", "file", arguments.output},
        {"bytes", "size", static_cast<std::int64_t>(html.size()), "bytes"},
        {"status", "status of the estimate", std::string(to_string(estimate.status))},
        {"points", "points of the map", static_cast<std::int64_t>(points)},
    }});
    answer::write_answer(std::move(written), format, arguments.form.fragment, {answer::basis_of(loaded)}, streams.out);
  }
  return estimate.status == model::Status::done ? console::kDone : console::kNotMet;
}

}  // namespace whorl::app
