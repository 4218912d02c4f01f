// `whorl figure INPUT...`: figures for print from a case or from result files.
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>
#include <ostream>
#include <sstream>

#include "answer/answer.hpp"
#include "answer/estimate_statement.hpp"
#include "answer/figure_data.hpp"
#include "answer/figure_results.hpp"
#include "answer/provenance.hpp"
#include "app/commands.hpp"
#include "figures/figure_export.hpp"
#include "figures/figure_kinds.hpp"
#include "io/json_document.hpp"
#include "io/sha256.hpp"
#include "io/table.hpp"
#include "run/progress.hpp"
#include "run/stop_signals.hpp"
#include "table/sweep_database.hpp"
#include "table/whole_file.hpp"
#include "whorl/engine/batch.hpp"
#include "whorl/engine/run_jets.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/io/keys.hpp"
#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::app {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::size_t kLargestResult = std::size_t{16} << 20;  ///< bytes of a result as JSON

enum class InputKind { case_file, estimate, sweep, profile, window, calibration, explanation };

struct Input {
  std::string path;
  std::string name;  ///< file name, for titles
  InputKind kind{};
  Json json;
  io::Table table;
  std::vector<answer::Basis> bases;  ///< of a result: the file, and the case it says it is of
};

bool is_digest(const std::string& text) {
  return text.size() == 64 && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

std::string text_member(const Json& json, const char* key) {
  const auto found = json.find(key);
  return found != json.end() && found->is_string() ? found->get<std::string>() : std::string();
}

// What a result says of its case: inside a JSON file, in the metadata file beside a table. Nothing where it says
// nothing that can be used.
void add_case_of(Input& input) {
  std::string name, digest;
  if (input.json.is_object()) {
    name = text_member(input.json, "case");
    digest = text_member(input.json, "case_sha256");
    if (const auto list = input.json.find("based_on"); digest.empty() && list != input.json.end() && list->is_array()) {
      for (const Json& one : *list)
        if (one.is_object() && text_member(one, "kind") == "case" && is_digest(text_member(one, "sha256")))
          input.bases.push_back({"case", text_member(one, "name"), text_member(one, "sha256"), {}});
      return;
    }
  } else {
    try {
      const bool database = table::names_database(input.path);
      const std::string about = database ? input.path : io::csvw_file(input.path);
      const io::TableIdentity found = io::read_csvw_identity(
          database ? table::sweep_database_metadata(about) : io::read_text_file(about, io::Named::in_a_file), about);
      name = found.case_name;
      digest = found.case_sha256;
    } catch (const InputError&) {
      return;
    }
  }
  if (is_digest(digest)) input.bases.push_back({"case", name.substr(name.rfind('/') + 1), digest, {}});
}

/// What an input is called, and the figure that suits it. In the order of InputKind.
struct InputWords {
  const char* word;
  const char* sentence;
  const char* figure;
};
constexpr std::array kInputs{InputWords{"case", "a case file", "path"},
                             InputWords{"estimate", "an estimate (JSON)", "distribution"},
                             InputWords{"sweep", "a sweep (CSV)", "trend"},
                             InputWords{"profile", "a profile (CSV)", "profile"},
                             InputWords{"window", "a window (JSON)", "window"},
                             InputWords{"calibration", "a calibration (JSON)", "fit"},
                             InputWords{"explanation", "an explanation (JSON)", "split"}};
const InputWords& words_of(InputKind kind) { return kInputs.at(static_cast<std::size_t>(kind)); }

// The rows of a sweep's database as the CSV file that stands for them.
std::string rows_of_database(const std::string& path) {
  std::string text;
  table::read_sweep_database(path, [&](std::string_view line) {
    if (text.size() + line.size() >= io::kLargestTable)
      throw InputError(path, "", "more rows than can be drawn", "at most 256 MiB as CSV");
    text.append(line).push_back('\n');
  });
  return text;
}

Input read_input(const std::string& path) {
  Input input;
  input.path = path;
  input.name = path.substr(path.rfind('/') + 1);
  const std::string text =
      table::names_database(path)
          ? rows_of_database(path)
          : io::read_bounded_file(path, io::kLargestTable,
                                  "a case file, or a result of estimate --json, --profile or sweep",
                                  io::Named::by_user);
  const std::size_t first = text.find_first_not_of(" \t\r\n\xef\xbb\xbf");
  if (first != std::string::npos && text[first] == '{') {
    if (text.size() > kLargestResult)
      throw InputError(path, "", "a JSON file larger than 16 MiB",
                       "a case file or the output of whorl estimate --json");
    const Json::parser_callback_t watch = [&](int depth, Json::parse_event_t event, Json& value) {
      if (depth > io::kDeepest)
        throw InputError(path, "", "is nested deeper than " + std::to_string(io::kDeepest) + " levels",
                         "a case file or the output of whorl estimate --json");
      if (event == Json::parse_event_t::value && value.is_number_float()) {
        const double number = std::abs(value.get<double>());
        if (!(number <= io::kLargestNumber))
          throw InputError(path, "", "the number " + io::number_text(value.get<double>()), "numbers up to 1e100");
        if (number < 1.0 / io::kLargestNumber) value = 0.0;
      }
      return true;
    };
    input.json = Json::parse(text, watch, false);
    // a broken case file gets the message of the case reader
    if (input.json.is_discarded() || input.json.contains("whorl_case") || !input.json.contains("program")) {
      input.kind = InputKind::case_file;
    } else if (input.json.contains("whorl_window")) {
      input.kind = InputKind::window;
    } else if (input.json.contains("whorl_calibration")) {
      input.kind = InputKind::calibration;
    } else if (input.json.contains("whorl_explain")) {
      input.kind = InputKind::explanation;
    } else if (input.json.contains("results")) {
      input.kind = InputKind::estimate;
    } else {
      throw InputError(path, "", "a JSON file of another kind",
                       "a case file or the output of whorl estimate --json, window --json or calibrate");
    }
    if (input.kind != InputKind::case_file) {
      input.bases.push_back({words_of(input.kind).word, input.name, io::sha256_hex(text), {}});
      add_case_of(input);
    }
    return input;
  }
  input.table = io::parse_table(text, path);
  if (input.table.rows.empty()) throw InputError(path, "", "no rows", "a table with rows");
  if (input.table.has("arc_length_mm")) {
    input.kind = InputKind::profile;
  } else if (input.table.has("status") && input.table.has("class")) {
    input.kind = InputKind::sweep;
  } else {
    throw InputError(path, "", "a table of another kind", "the output of whorl sweep or of whorl estimate --profile");
  }
  input.bases.push_back({words_of(input.kind).word, input.name, io::sha256_hex(text), {}});
  add_case_of(input);
  return input;
}

[[noreturn]] void wrong_input(const Input& input, const std::string& kind, const std::string& allowed) {
  throw InputError(input.path, "--kind " + kind, words_of(input.kind).sentence, allowed);
}

figures::FigureFormat format_of(const FigureArguments& arguments) {
  figures::FigureFormat format;
  const io::QuantityKind length{"m", "85 mm"};
  if (arguments.width == "column") {
    format.width_mm = figures::kColumnWidthMm;
  } else if (arguments.width == "page") {
    format.width_mm = figures::kPageWidthMm;
  } else {
    format.width_mm = io::tidy(1e3 * io::parse_quantity(arguments.width, length, {"", "--width"}).value);
  }
  if (!arguments.height.empty())
    format.height_mm = io::tidy(1e3 * io::parse_quantity(arguments.height, length, {"", "--height"}).value);
  format.font_pt = arguments.font_size;
  return format;
}

model::Estimate estimate_of(const study::LoadedCase& loaded, const console::Streams& streams) {
  engine::EstimateOptions options;
  run::Progress progress(run::progress_stream(streams.err));
  options.run_count = progress.run_count();
  options.keep_profile = true;
  model::Estimate estimate = answer::case_estimate(loaded, options);
  if (estimate.status != model::Status::done)
    throw InputError(loaded.file.name, "", "a case that does not converge: " + estimate.reason,
                     "a case with a result to draw");
  return estimate;
}

// Rows kept by --where.
void filter(io::Table& table, const std::vector<std::string>& wheres) {
  for (const auto& where : wheres) {
    const std::size_t equals = where.find('=');
    if (equals == std::string::npos)
      throw InputError("", "--where", '"' + where + '"', "KEY=VALUE, for example \"gas_overpressure=0.1 MPa\"");
    const std::string name(where.substr(0, equals));
    const std::string text(where.substr(equals + 1));
    const io::Key* key = io::find_key(name);
    const std::string column = key != nullptr ? std::string(key->column) : name;
    std::vector<std::vector<std::string>> kept;
    if (key != nullptr) {
      const double wanted = io::to_display(*key, io::parse_value(*key, text, ""));
      const auto values = table.numbers(column);
      for (std::size_t r = 0; r < table.rows.size(); ++r)
        if (std::abs(values[r] - wanted) <= 1e-9 * std::max(std::abs(wanted), 1e-12)) kept.push_back(table.rows[r]);
    } else {
      const std::size_t at = table.column(column);
      for (const auto& row : table.rows)
        if (row[at] == text) kept.push_back(row);
    }
    if (kept.empty())
      throw InputError(table.file, "--where", '"' + where + '"', "a value that is in the column " + column);
    table.rows = std::move(kept);
  }
}

std::vector<double> numbers_of_list(const std::string& text, const std::string& option) {
  std::vector<double> out;
  std::istringstream in(text);
  for (std::string part; std::getline(in, part, ',');)
    out.push_back(io::parse_quantity(part, {"1", "5"}, {"", option}).value);
  std::sort(out.begin(), out.end());
  out.erase(std::unique(out.begin(), out.end()), out.end());
  return out;
}

// One file of measured points: columns named as the axes, and one for the value.
std::vector<figures::MapFigure::Point> measured_points(const std::string& path, const figures::MapFigure& map) {
  const io::Table table = io::read_table(path);
  const auto x = table.numbers(map.x_column);
  const auto y = table.numbers(map.y_column);
  std::vector<double> z(x.size(), NAN);
  for (const std::string& name : {map.z_column, std::string("measured_") + map.z_column, std::string("diameter_um"),
                                  std::string("mean_diameter_um")}) {
    if (!table.has(name)) continue;
    z = table.numbers(name);
    break;
  }
  std::vector<figures::MapFigure::Point> out;
  for (std::size_t i = 0; i < x.size(); ++i)
    if (std::isfinite(x[i]) && std::isfinite(y[i])) out.push_back({x[i], y[i], z[i], {}});
  return out;
}

// Points of a trend: the column of its horizontal axis, and one for the value. A table of trials has its own spellings.
void add_measured(figures::PanelFigure& figure, const std::string& path) {
  const io::Table table = io::read_table(path);
  const auto x = table.numbers(figure.x_column);
  bool found = false;
  for (figures::Panel& panel : figure.panels) {
    std::vector<std::string> names{"measured_" + panel.column, panel.column};
    if (panel.column == "dry_diameter_um")
      names.insert(names.end(), {"diameter_um", "mean_diameter_um", "diameter_mean_um"});
    for (const std::string& name : names) {
      if (!table.has(name)) continue;
      const auto y = table.numbers(name);
      for (std::size_t i = 0; i < x.size(); ++i)
        if (std::isfinite(x[i]) && std::isfinite(y[i])) panel.measured.emplace_back(x[i], y[i]);
      found = true;
      break;
    }
  }
  if (!found)
    throw InputError(path, "--measured", "no column for " + figure.panels.front().column,
                     "a column diameter_um, or measured_ and the name of the column drawn");
}

class FigureMaker {
 public:
  FigureMaker(const FigureArguments& arguments, const console::Streams& streams)
      : arguments_{arguments}, streams_{streams}, format_{format_of(arguments)} {
    for (const auto& path : arguments.inputs) inputs_.push_back(read_input(path));
  }

  /// Of what was drawn, after make().
  [[nodiscard]] std::vector<answer::Basis> bases() const {
    std::vector<answer::Basis> out;
    for (const auto& input : inputs_) {
      if (input.kind == InputKind::case_file) {
        out.push_back(answer::basis_of(study::load_case(input.path, arguments_.overlay)));
      } else {
        out.insert(out.end(), input.bases.begin(), input.bases.end());
      }
    }
    if (!arguments_.measured.empty()) out.push_back(answer::basis_of_file("measured", arguments_.measured));
    return out;
  }

  figures::Figure make() {
    const std::string kind = arguments_.kind.empty() ? default_kind() : arguments_.kind;
    kind_ = kind;
    try {
      if (kind == "path") return path();
      if (kind == "profile") return profile();
      if (kind == "map") return map();
      if (kind == "trend") return trend();
      if (kind == "distribution") return distribution();
      if (kind == "budget") return budget();
      if (kind == "split") return split();
      if (kind == "window") return window();
      if (kind == "fit") return fit();
    } catch (const Json::exception&) {
      // Something is missing or of another kind than the program writes.
      std::string names;
      for (const auto& input : inputs_)
        if (input.kind == InputKind::estimate) names += (names.empty() ? "" : ", ") + input.path;
      throw InputError(names, "", "not what an estimate writes, or not all of it",
                       "the output of whorl estimate --json, unchanged");
    }
    throw InputError("", "--kind", '"' + kind + '"',
                     "path, profile, map, trend, distribution, budget, split, window or fit");
  }
  [[nodiscard]] const std::string& kind() const { return kind_; }

 private:
  const Input& only() const {
    if (inputs_.size() != 1)
      throw InputError("", "--kind " + kind_, std::to_string(inputs_.size()) + " inputs", "one input");
    return inputs_.front();
  }

  // What is computed or read over two settings is a map.
  std::string default_kind() const {
    const Input& first = inputs_.front();
    const bool plane = first.kind == InputKind::case_file
                           ? !arguments_.vary.empty()
                           : first.kind == InputKind::sweep && answer::free_axes(first.table).size() >= 2;
    return plane ? "map" : words_of(first.kind).figure;
  }

  figures::Figure path() {
    figures::PathFigure data;
    for (const auto& input : inputs_) {
      if (input.kind == InputKind::case_file) {
        const study::LoadedCase loaded = study::load_case(input.path, arguments_.overlay);
        const model::Estimate estimate = estimate_of(loaded, streams_);
        answer::add_jet(data, loaded, estimate, inputs_.size() > 1 ? answer::case_title(loaded) : std::string());
        if (inputs_.size() == 1) data.about = answer::setting_title(loaded);
      } else if (input.kind == InputKind::profile) {
        answer::add_jet(data, input.table, inputs_.size() > 1 ? input.name : std::string());
        if (inputs_.size() == 1) data.about = input.name;
      } else {
        wrong_input(input, kind_, "a case file or a profile (whorl estimate CASE --profile FILE)");
      }
    }
    return figures::draw_path(data, format_);
  }

  figures::Figure profile() {
    std::vector<io::Table> tables;
    std::vector<std::string> names;
    std::string about;
    for (const auto& input : inputs_) {
      if (input.kind == InputKind::case_file) {
        const study::LoadedCase loaded = study::load_case(input.path, arguments_.overlay);
        tables.push_back(answer::profile_table(estimate_of(loaded, streams_), input.path));
        names.push_back(answer::case_title(loaded));
        about = answer::setting_title(loaded);
      } else if (input.kind == InputKind::profile) {
        tables.push_back(input.table);
        names.push_back(input.name);
        about = input.name;
      } else {
        wrong_input(input, kind_, "a case file or a profile (whorl estimate CASE --profile FILE)");
      }
    }
    if (tables.size() > 1) about.clear();
    if (tables.size() == 1) names.front().clear();
    return figures::draw_panels(answer::profile_figure(tables, names, arguments_.x, arguments_.y, about), format_);
  }

  // The sweep of the input: read, or computed from the case over --vary.
  answer::SweepData sweep_data() {
    const Input& input = only();
    answer::SweepData data;
    if (input.kind == InputKind::sweep) {
      data.table = input.table;
      data.about = input.name;
    } else if (input.kind == InputKind::case_file) {
      const study::LoadedCase loaded = study::load_case(input.path, arguments_.overlay);
      answer::GridOptions options;
      options.vary = arguments_.vary;
      options.one_axis = kind_ == "trend";
      options.threads = arguments_.threads;
      run::Progress progress(run::progress_stream(streams_.err));
      options.run_count = progress.run_count();
      data = answer::computed_sweep(loaded, options);
    } else {
      wrong_input(input, kind_, "a sweep (whorl sweep CASE -o FILE) or a case file with --vary");
    }
    filter(data.table, arguments_.where);
    return data;
  }

  figures::Figure window() {
    if (only().kind != InputKind::window) wrong_input(only(), kind_, "the output of whorl window --json");
    return figures::draw_window(answer::window_figure(only().json, only().path), format_);
  }

  figures::Figure fit() {
    if (only().kind != InputKind::calibration)
      wrong_input(only(), kind_, "a calibration (whorl calibrate CASE DATA -o FILE)");
    return figures::draw_fit(answer::fit_figure(only().json, only().path), format_);
  }

  figures::Figure map() {
    const bool window = only().kind == InputKind::window;
    figures::MapFigure data = window ? answer::probability_figure(only().json, only().path)
                                     : answer::map_figure(sweep_data(), arguments_.x, one_y(), arguments_.z);
    if (!arguments_.levels.empty()) data.levels = numbers_of_list(arguments_.levels, "--levels");
    if (!arguments_.measured.empty()) data.measured = measured_points(arguments_.measured, data);
    return figures::draw_map(data, format_);
  }
  [[nodiscard]] std::string one_y() const {
    if (arguments_.y.size() > 1) throw InputError("", "--y", "more than one column", "one column for a map");
    return arguments_.y.empty() ? std::string() : arguments_.y.front();
  }

  figures::Figure trend() {
    figures::PanelFigure data = answer::trend_figure(sweep_data(), arguments_.x, arguments_.y, arguments_.series);
    if (!arguments_.measured.empty()) add_measured(data, arguments_.measured);
    return figures::draw_panels(data, format_);
  }

  figures::Figure distribution() {
    const Input& input = only();
    figures::DistributionFigure data;
    if (input.kind == InputKind::case_file) {
      const study::LoadedCase loaded = study::load_case(input.path, arguments_.overlay);
      const model::Estimate estimate = estimate_of(loaded, streams_);
      answer::add_run(data, estimate);
      data.about = answer::setting_title(loaded);
    } else if (input.kind == InputKind::estimate) {
      data.scatter_log_sd = engine::kSingleFibreSd;
      for (const auto& point : input.json.at("run")) {
        if (!point.contains("dry_diameter_um") || !point.contains("fibre_length_share")) continue;
        data.diameters_um.push_back(point.at("dry_diameter_um").get<double>());
        data.shares.push_back(point.at("fibre_length_share").get<double>());
        if (!(data.diameters_um.back() > 0.0) || !(data.shares.back() >= 0.0))
          throw InputError(input.path, "run", "a diameter or a share below zero", "an estimate as whorl writes it");
      }
      data.about = input.json.value("case", std::string());
    } else {
      wrong_input(input, kind_, "a case file or an estimate (whorl estimate CASE --json)");
    }
    if (data.diameters_um.empty())
      throw InputError(input.path, "--kind distribution", "a run that lays no fibre", "a case whose jet arrives");
    if (!arguments_.measured.empty()) {
      data.measured_um = answer::measured_diameters(arguments_.measured);
      data.measured_name = "measured, by number";
    }
    return figures::draw_distribution(data, format_);
  }

  // Results of a case or of an estimate as JSON.
  std::pair<Json, std::string> results(const Input& input) const {
    if (input.kind == InputKind::estimate) return {input.json, input.json.value("case", input.name)};
    if (input.kind == InputKind::case_file) {
      const study::LoadedCase loaded = study::load_case(input.path, arguments_.overlay);
      return {answer::estimate_json(loaded, estimate_of(loaded, streams_)), answer::setting_title(loaded)};
    }
    wrong_input(input, kind_, "a case file or an estimate (whorl estimate CASE --json)");
  }

  figures::Figure budget() {
    const auto [json, about] = results(only());
    if (!json.contains("line_speed_budget_J_kg"))
      throw InputError(only().path, "--kind budget", "an estimate without a jet",
                       "a case whose jet leaves the orifice");
    return figures::draw_split(answer::budget_figure(json.at("line_speed_budget_J_kg"), about), format_);
  }

  figures::Figure split() {
    if (inputs_.size() == 1 && inputs_.front().kind == InputKind::explanation)
      return figures::draw_split(answer::split_figure(inputs_.front().json, inputs_.front().path), format_);
    if (inputs_.size() != 2)
      throw InputError("", "--kind split", std::to_string(inputs_.size()) + " inputs",
                       "two cases or estimates, before and after, or one explanation (whorl explain A B --json)");
    const auto [before, before_name] = results(inputs_[0]);
    const auto [after, after_name] = results(inputs_[1]);
    return figures::draw_split(
        answer::split_figure({before, inputs_[0].path}, {after, inputs_[1].path},
                             "from " + before_name + " to " + after_name),
        format_);
  }

  const FigureArguments& arguments_;
  const console::Streams& streams_;
  figures::FigureFormat format_;
  std::vector<Input> inputs_;
  std::string kind_;
};

}  // namespace

int run_figure(const FigureArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  const figures::FigureFile type = figures::figure_file_type(arguments.output);
  FigureMaker maker(arguments, streams);
  const table::Existing existing = table::existing_if(arguments.force);
  table::check_target(arguments.output, "-o", existing);
  const std::string caption_file =
      arguments.caption ? arguments.output.substr(0, arguments.output.rfind('.')) + ".txt" : std::string();
  if (arguments.caption) table::check_target(caption_file, "--caption", existing);
  const run::StopSignals signals;
  figures::Figure figure;
  try {
    figure = maker.make();
  } catch (const engine::Interrupted&) {
    return console::kInterrupted;
  }
  const std::vector<answer::Basis> bases = maker.bases();
  table::write_whole_file(arguments.output, "-o",
                          figures::exported(figure, type, arguments.dpi, answer::figure_origin(bases)), existing);
  if (arguments.caption) table::write_whole_file(caption_file, "--caption", figure.caption + '\n', existing);
  if (format != document::Format::text) {
    document::Document written{"Figure " + arguments.output, {}};
    document::Quantities rows{{
        {"file", "file", arguments.output},
        {"kind", "kind", maker.kind()},
        {"title", "title", figure.title},
        {"caption", "caption", figure.caption},
        {"width_mm", "width", io::tidy(figure.width_pt / figures::kPointsPerMm, 6), "mm"},
        {"height_mm", "height", io::tidy(figure.height_pt / figures::kPointsPerMm, 6), "mm"},
    }};
    if (!caption_file.empty()) rows.rows.push_back({"caption_file", "caption in", caption_file});
    written.blocks.emplace_back(std::move(rows));
    answer::write_answer(std::move(written), format, arguments.form.fragment, bases, streams.out);
  }
  return console::kDone;
}

}  // namespace whorl::app
