#include "run/sweep_run.hpp"

#include <oneapi/tbb/global_control.h>
#include <oneapi/tbb/info.h>
#include <oneapi/tbb/parallel_pipeline.h>
#include <oneapi/tbb/task_arena.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <iostream>
#include <memory>
#include <new>
#include <string_view>

#include "console/status_line.hpp"
#include "io/sha256.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/sweep_file.hpp"
#include "whorl/engine/batch.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/number_text.hpp"

namespace whorl::run {
namespace {

constexpr const char* kProgram = "whorl";
constexpr const char* kDone = "done";
constexpr const char* kNotConverged = "not-converged";
constexpr const char* kRefused = "refused";
constexpr const char* kFailed = "failed";
constexpr std::size_t kRowsInFlightPerThread = 16;

std::string rate_text(double rate) { return decimals_text(rate, rate < 10.0 ? 2 : 0); }

// Points done, their rate and the time left.
class PointsDone {
 public:
  PointsDone(std::ostream* out, std::uint64_t done, std::uint64_t total) : line_(out), kept_(done), total_(total) {}

  void update(std::uint64_t done) {
    line_.update([&] {
      const double seconds = std::chrono::duration<double>(console::StatusLine::Clock::now() - start_).count();
      const double rate = static_cast<double>(done - kept_) / std::max(seconds, 1e-9);
      const double left = static_cast<double>(total_ - done) / std::max(rate, 1e-12);
      return std::to_string(done) + " of " + std::to_string(total_) + " points, " + rate_text(rate) + " points/s, " +
             duration_text(left) + " left";
    });
  }
  void clear() { line_.clear(); }

 private:
  console::StatusLine line_;
  std::uint64_t kept_;
  std::uint64_t total_;
  console::StatusLine::Clock::time_point start_{console::StatusLine::Clock::now()};
};

void append_index(std::string& line, std::uint64_t index) { line += std::to_string(index + 1); }

// The cells that do not depend on the result: point number and varied values.
void append_point(std::string& line, std::uint64_t index, const std::vector<double>& values) {
  append_index(line, index);
  for (const double value : values) {
    line.push_back(',');
    io::append_number(line, value);
  }
  line.push_back(',');
}

void count(SweepReport& report, std::string_view status) {
  if (status == kDone) ++report.done;
  else if (status == kNotConverged) ++report.not_converged;
  else if (status == kRefused) ++report.refused;
  else ++report.failed;
}

bool is_status(std::string_view text) {
  return text == kDone || text == kNotConverged || text == kRefused || text == kFailed;
}

// Commas outside quotes; -1 when a quote is left open.
std::ptrdiff_t separators(std::string_view row) {
  std::ptrdiff_t found = 0;
  bool inside = false;
  for (const char c : row) {
    if (c == '"') inside = !inside;
    else if (c == ',' && !inside) ++found;
  }
  return inside ? -1 : found;
}

model::Estimate evaluate_guarded(const Evaluate& evaluate, const model::CaseInput& input, PointOutcome& outcome) {
  model::Estimate estimate;
  try {
    estimate = evaluate(input);
    outcome.status = estimate.status == model::Status::done ? kDone : kNotConverged;
    outcome.reason = estimate.reason.empty() ? estimate.jet.reason : estimate.reason;
  } catch (const std::bad_alloc&) {
    throw;  // says something about the machine, nothing about the point
  } catch (const InputError& error) {
    outcome.status = kRefused;
    outcome.reason = error.what();
  } catch (const std::exception& error) {
    outcome.status = kFailed;
    outcome.reason = error.what();
  } catch (...) {
    outcome.status = kFailed;
    outcome.reason = "unknown failure";
  }
  return estimate;
}

struct Slot {
  std::uint64_t index{};
  std::string row;
  const char* status{};
  bool abandoned{};
};

std::string range_text(const SweepPlan& plan) {
  return std::to_string(plan.first + 1) + " to " + std::to_string(plan.last);
}

std::vector<std::pair<std::string, std::string>> plan_facts(const SweepPlan& plan) {
  std::vector<std::pair<std::string, std::string>> facts{{"property library", "sha256:" + plan.library_sha256},
                                                         {"design", engine::to_string(plan.design.kind())},
                                                         {"points", std::to_string(plan.design.size())}};
  if (plan.design.kind() != engine::DesignKind::grid) facts.emplace_back("seed", std::to_string(plan.design.seed()));
  for (const auto& key : plan.keys) facts.emplace_back("varied", study::axis_text(key, plan.design.kind()));
  for (const auto& fact : plan.more_facts) facts.push_back(fact);
  if (plan.columns != table::SweepColumns::all) facts.emplace_back("columns", table::to_string(plan.columns));
  facts.emplace_back("rows", range_text(plan));
  return facts;
}

// Empty when the metadata document is that of this plan; else what differs, in the order in which a person would look.
std::string difference(const SweepPlan& plan, const std::string& text, const std::string& file) {
  const io::TableIdentity found = io::read_csvw_identity(text, file);
  if (found.program_version != plan.program_version)
    return "made by version " + found.program_version + " of the program, this is " + plan.program_version;
  if (found.case_sha256 != plan.case_sha256) return "made from another case";
  if (found.facts != plan_facts(plan)) {
    const auto columns = [](const std::vector<std::pair<std::string, std::string>>& facts) {
      return std::any_of(facts.begin(), facts.end(), [](const auto& fact) { return fact.first == "columns"; });
    };
    if (columns(found.facts) != columns(plan_facts(plan))) return "made with other columns (--columns)";
    auto mine = plan_facts(plan);
    if (!found.facts.empty() && mine.front() != found.facts.front()) return "made with another property library";
    if (!found.facts.empty() && mine.back() != found.facts.back()) {
      auto theirs = found.facts;
      mine.pop_back();
      theirs.pop_back();
      if (mine == theirs)
        return "another share of the sweep: it has rows " + found.facts.back().second + ", asked for are " +
               range_text(plan);
    }
    return "made from another design or other varied values";
  }
  if (found.identity != sweep_identity(plan)) return "made from another sweep";
  return {};
}

}  // namespace

std::string sweep_header(const SweepPlan& plan) {
  std::string line = "point";
  for (const auto& swept : plan.keys) (line += ',') += swept.key->column;
  const bool few = plan.columns != table::SweepColumns::all;
  line += few ? ",status,class,landing" : ",status,reason,class,landing,warnings";
  for (const io::Output* output : table::sweep_outputs(plan.columns)) (line += ',') += output->column;
  for (const auto& column : plan.more_columns) (line += ',') += column.name;
  if (few) line += plan.columns == table::SweepColumns::answers ? ",reason" : ",warnings,reason";
  line.push_back('\n');
  return line;
}

std::string sweep_identity(const SweepPlan& plan) {
  std::string text = "sweep 1\nversion " + plan.program_version + "\ncase " + plan.case_sha256 + '\n';
  for (const auto& [name, value] : plan_facts(plan))
    if (name != "rows") text += name + ' ' + value + '\n';
  return io::sha256_hex(text + sweep_header(plan));
}

std::string sweep_metadata(const SweepPlan& plan, const std::string& output) {
  io::TableMetadata table;
  table.url = output.substr(output.rfind('/') + 1);  // npos + 1 is 0
  table.title = "Sweep of " + plan.case_name;
  table.description = plan.base.purpose.empty() ? "One row per operating point." : plan.base.purpose;
  table.identity = sweep_identity(plan);
  table.case_name = plan.case_name;
  table.case_sha256 = plan.case_sha256;
  table.program = kProgram;
  table.program_version = plan.program_version;
  table.facts = plan_facts(plan);
  table.columns = sweep_columns(plan);
  return io::csvw_text(table);
}

std::vector<io::TableColumn> sweep_columns(const SweepPlan& plan) {
  std::vector<io::TableColumn> columns;
  columns.push_back({"point", "integer", "", "", "number of the point in the design, from 1", true});
  for (const auto& swept : plan.keys)
    columns.push_back({std::string(swept.key->column), "double", std::string(swept.key->display_unit), "",
                       "varied: " + std::string(swept.key->path) + ", " + std::string(swept.key->description), true});
  columns.push_back({"status",
                     "string",
                     "",
                     "",
                     "done: the numbers of the row are results; otherwise they are empty",
                     true,
                     {kDone, kNotConverged, kRefused, kFailed}});
  const io::TableColumn reason{"reason", "string", "", "", "how the point ended, or why it has no result", false};
  const io::TableColumn warnings{"warnings", "string", "", "", "codes of the warnings, separated by blanks", false};
  const bool few = plan.columns != table::SweepColumns::all;
  if (!few) columns.push_back(reason);
  columns.push_back({"class", "string", "", "", "what lands on the collector", false});
  columns.push_back({"landing", "string", "", "", "state of what lands: dry, firm, tacky, wet, none", false});
  if (!few) columns.push_back(warnings);
  for (const io::Output* output : table::sweep_outputs(plan.columns)) {
    const io::Output& result = *output;
    const char* type = result.kind == io::OutputKind::boolean ? "boolean"
                       : result.kind == io::OutputKind::whole ? "integer"
                                                              : "double";
    columns.push_back({std::string(result.column), type,
                             result.kind == io::OutputKind::boolean ? "" : std::string(result.unit),
                             std::string(result.symbol), std::string(result.description), false});
  }
  columns.insert(columns.end(), plan.more_columns.begin(), plan.more_columns.end());
  if (few && plan.columns != table::SweepColumns::answers) columns.push_back(warnings);
  if (few) columns.push_back(reason);
  return columns;
}

void append_sweep_row(std::string& line, const SweepPlan& plan, std::uint64_t index, const std::vector<double>& values,
                      const PointOutcome& outcome) {
  append_point(line, index, values);
  line += outcome.status;
  const bool few = plan.columns != table::SweepColumns::all;
  const auto reason = [&] {
    line.push_back(',');
    io::append_text(line, outcome.reason);
  };
  if (!few) reason();
  const model::Estimate* estimate = outcome.estimate;
  const bool done = estimate != nullptr && estimate->status == model::Status::done;
  line.push_back(',');
  if (done) io::append_text(line, model::to_string(estimate->fibre_class));
  line.push_back(',');
  if (done) io::append_text(line, model::to_string(estimate->landing));
  const auto warnings = [&] {
    line.push_back(',');
    if (estimate == nullptr) return;
    std::string codes;
    for (const auto& warning : estimate->warnings) codes += (codes.empty() ? "" : " ") + warning.code;
    io::append_text(line, codes);
  };
  if (!few) warnings();
  for (const io::Output* column : table::sweep_outputs(plan.columns)) {
    const io::Output& output = *column;
    line.push_back(',');
    if (!done) continue;
    const auto value = io::output_value(output, *estimate);
    if (!value) continue;
    if (output.kind == io::OutputKind::boolean) line += *value != 0.0 ? "true" : "false";
    else io::append_number(line, *value);
  }
  for (std::size_t k = 0; k < plan.more_columns.size(); ++k) {
    line.push_back(',');
    if (k < outcome.more.size() && outcome.more[k]) io::append_number(line, *outcome.more[k]);
  }
  if (few && plan.columns != table::SweepColumns::answers) warnings();
  if (few) reason();
  line.push_back('\n');
}

namespace {

// The file of a sweep, and the check of rows that are there already, which are counted. `report` outlives it.
table::SweepFileSetup file_setup(const SweepPlan& plan, const SweepOptions& options, SweepReport& report) {
  table::SweepFileSetup setup;
  setup.path = options.output;
  setup.metadata = sweep_metadata(plan, options.output);
  setup.header = sweep_header(plan);
  setup.columns = sweep_columns(plan);
  setup.resume = options.resume;
  setup.force = options.force;
  setup.compare = [&plan](const std::string& text, const std::string& file) { return difference(plan, text, file); };
  const std::ptrdiff_t columns = separators(setup.header);
  setup.check_row = [&plan, &report, columns, expected = std::string(), values = std::vector<double>(plan.keys.size())](
                        std::uint64_t number, std::string_view row) mutable -> std::string {
    if (number >= report.points) return "more rows than the sweep has points";
    plan.design.point(plan.first + number, values);
    expected.clear();
    append_point(expected, plan.first + number, values);
    if (row.substr(0, expected.size()) != expected)
      return "not point " + std::to_string(plan.first + number + 1) + " of this sweep";
    row.remove_prefix(expected.size());
    const auto status = row.substr(0, row.find(','));
    if (!is_status(status) || separators(row) + separators(expected) != columns) return "not a row of a sweep";
    count(report, status);
    return {};
  };
  return setup;
}

}  // namespace

SweepReport run_sweep(const SweepPlan& plan, const SweepOptions& options, const Evaluate& evaluate) {
  const auto start = std::chrono::steady_clock::now();
  const std::size_t dimension = plan.keys.size();
  SweepReport report;
  report.points = plan.last - plan.first;
  report.identity = sweep_identity(plan);

  table::SweepFileSetup setup = file_setup(plan, options, report);

  StopSignals signals;
  const std::unique_ptr<table::SweepOutput> file = table::open_sweep_output(std::move(setup));
  report.kept = file->kept_rows();

  std::uint64_t next = plan.first + report.kept;
  std::uint64_t written = next;
  bool abandoned = false;
  PointsDone progress(options.progress, report.kept, report.points);
  const auto threads =
      static_cast<std::size_t>(options.threads > 0 ? options.threads : tbb::info::default_concurrency());
  // A row lives in the slot of its index modulo the number of rows in flight: the pipeline lets no more than that many
  // in, and out in order, so a slot is free again when its turn comes. Memory does not grow with the number of points.
  std::vector<Slot> slots(threads * kRowsInFlightPerThread);

  const auto give = [&](tbb::flow_control& control) -> Slot* {
    if (next >= plan.last || stop_requested()) {
      control.stop();
      return nullptr;
    }
    Slot& slot = slots[next % slots.size()];
    slot.index = next++;
    slot.abandoned = false;
    return &slot;
  };
  const auto compute = [&](Slot* slot) -> Slot* {
    if (stop_requested()) {
      slot->abandoned = true;
      return slot;
    }
    std::vector<double> values(dimension);
    plan.design.point(slot->index, values);
    model::CaseInput input = plan.base;
    for (std::size_t k = 0; k < dimension; ++k)
      plan.keys[k].key->set(input, io::from_display(*plan.keys[k].key, values[k]));
    PointOutcome outcome;
    const model::Estimate estimate = evaluate_guarded(evaluate, input, outcome);
    if (outcome.status == kDone || outcome.status == kNotConverged) outcome.estimate = &estimate;
    if (plan.more_cells && outcome.status == kDone) {
      try {
        outcome.more = plan.more_cells(input);
      } catch (const engine::Interrupted&) {
        slot->abandoned = true;
        return slot;
      }
    }
    slot->status = outcome.status;
    slot->row.clear();
    append_sweep_row(slot->row, plan, slot->index, values, outcome);
    return slot;
  };
  const auto take = [&](Slot* slot) {
    // Rows are in order: after the first one given up, none may follow.
    abandoned = abandoned || slot->abandoned;
    if (abandoned) return;
    file->append(slot->row);
    count(report, slot->status);
    ++report.computed;
    ++written;
    progress.update(written - plan.first);
  };

  const tbb::global_control limit(tbb::global_control::max_allowed_parallelism, threads);
  tbb::task_arena arena(static_cast<int>(threads));
  try {
    arena.execute([&] {
      tbb::parallel_pipeline(slots.size(), tbb::make_filter<void, Slot*>(tbb::filter_mode::serial_in_order, give) &
                                               tbb::make_filter<Slot*, Slot*>(tbb::filter_mode::parallel, compute) &
                                               tbb::make_filter<Slot*, void>(tbb::filter_mode::serial_in_order, take));
    });
  } catch (...) {
    progress.clear();
    throw;
  }
  progress.clear();
  report.interrupted = written < plan.last;
  file->close(!report.interrupted);
  report.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return report;
}

}  // namespace whorl::run
