// The commands of the program, without any command-line parsing: main.cpp fills the options and calls run_*(). Where a
// command reads cases, `overlay` is what --set and --calibration lay over them.
// To add a command: declare its options and run_ function here, write src/app/<command>.cpp, add one add_<command>() in
// main.cpp, list the file in src/app/CMakeLists.txt and add a call to tests/document/every_command.hpp.
#pragma once
#include <cstdint>
#include <iosfwd>
#include <optional>
#include <string>
#include <vector>

#include "answer/form.hpp"
#include "console/streams.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::app {

struct CheckOptions {
  std::vector<std::string> cases;
  bool json{};
  bool schema{};     ///< print the JSON Schema of case files instead
  bool key_table{};  ///< print the Markdown table of keys instead
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// Validates every case; console::kBadInput when one of them is refused.
int run_check(const CheckOptions& options, const console::Streams& streams);

struct MaterialsOptions {
  std::vector<std::string> names;  ///< none: list all; one: a polymer or solvent; two: a pair
  std::vector<std::string> add;    ///< further library files
  bool record{};                   ///< as a materials file
  bool json{};
  answer::FormArguments form{};
};
/// Lists the property library or shows entries of it with units, uncertainty and source.
int run_materials(const MaterialsOptions& options, const console::Streams& streams);

/// `--uncertainty [N]`, `--sample-seed`, `--threads`, `--all-in-full`.
struct UncertaintyArguments {
  std::optional<std::string> samples;  ///< empty text: the usual number; no value: not asked for
  std::uint64_t seed{1};
  int threads{};                       ///< 0: all
  bool all_in_full{};                  ///< no sample without tension where the case has it
};

struct EstimateArguments {
  std::string case_file;
  std::string profile;  ///< CSV file of the stations along the jet; empty: none
  std::string profile_columns;  ///< of that file, with commas between; empty: all
  std::string thread_profile;  ///< the same along torn threads
  bool force{};                      ///< replace existing files
  bool json{};
  bool audit{};         ///< close mass, momentum and energy balances and report them
  bool cautions{};      ///< print the cautions in full instead
  bool full{};          ///< all that is known behind the answer
  bool without_variants{};  ///< only the answer itself, in every format
  bool without_run{};       ///< no lines over the run
  UncertaintyArguments uncertainty;
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// console::kNotMet when the estimate did not converge.
int run_estimate(const EstimateArguments& arguments, const console::Streams& streams);

struct MergeArguments {
  std::vector<std::string> shares;  ///< CSV files of one sweep, in any order
  std::string output;
  bool force{};
  bool json{};
  bool quiet{};
  answer::FormArguments form{};
};
/// Joins the shares of a sweep into the bytes of one run. console::kNotMet when the output cannot be written (full
/// disk).
/// Error: InputError when shares are missing, unfinished, doubled, or not of one sweep; nothing is written then.
int run_merge(const MergeArguments& arguments, const console::Streams& streams);

struct FigureArguments {
  std::vector<std::string> inputs;   ///< a case, or result files
  std::string kind;                  ///< empty: what suits the input
  std::string output;                ///< .svg, .pdf or .png
  std::string width{"column"};       ///< column, page or a length
  std::string height;                ///< a length; empty: what suits the kind
  double font_size{8.0};             ///< points as printed
  double dpi{600.0};
  bool caption{};                    ///< write the caption beside the figure, as .txt
  std::string x;                     ///< columns; empty: what suits the kind
  std::vector<std::string> y;
  std::string z;
  std::string series;
  std::vector<std::string> where;    ///< KEY=VALUE: rows of a sweep to keep
  std::vector<std::string> vary;     ///< as of sweep, for maps and trends straight from a case
  std::string levels;                ///< of iso-lines, separated by commas
  std::string measured;              ///< CSV file of measured points or diameters
  int threads{};
  bool force{};                      ///< replace existing files
  bool json{};
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// Error: InputError for an input that does not hold what the kind needs.
int run_figure(const FigureArguments& arguments, const console::Streams& streams);
struct CalibrateArguments {
  std::string case_file, data;
  std::vector<std::string> fit;        ///< parameters of the model; empty: learn the law of the trials
  std::string reproducibility;         ///< scatter of the mean between repeated runs; empty: learned, with --fit 5 %
  std::string output;                  ///< calibration file; empty: none
  std::string residuals;               ///< CSV; empty: none
  int next_trials{};
  std::vector<std::string> over;       ///< candidates for the next trials, as --vary of sweep
  std::vector<std::string> step;       ///< KEY=VALUE: what gauge and motor resolve
  std::string aim;  ///< "parameters" (with --fit), "diameter", "region" or "window"; empty: parameters, or diameter
                    ///< without --fit
  std::string diameter;                ///< wanted, for aim "window"; empty: of the case's window block
  int threads{};
  bool force{};                      ///< replace existing files
  bool json{};
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// console::kNotMet when the fit did not converge; nothing is written then.
int run_calibrate(const CalibrateArguments& arguments, const console::Streams& streams);

struct DiametersArguments {
  std::vector<std::string> lists;
  std::string unit, column, decimal;
  std::string case_file;  ///< empty: no comparison
  bool json{};
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// console::kNotMet when a comparison was asked for and there is no estimate to compare with.
int run_diameters(const DiametersArguments& arguments, const console::Streams& streams);

struct RecipeArguments {
  std::string case_file;
  std::string runs{"1"};
  std::string allowance{"10 %"};
  std::string interval{"30 min"};     ///< from start to start of two runs
  std::string room_volume{"30 m3"};
  std::string air_changes{"6 h-1"};   ///< fresh air
  std::string mixing_factor{"3"};
  std::string collector_height;       ///< empty: not stated
  std::string country;                ///< whose exposure limits; empty: all
  std::string rotor_material{"aluminium-6061-t6"};
  std::string safety_factor{"4"};
  std::string page;                   ///< HTML file; empty: none
  bool force{};                      ///< replace existing files
  bool json{};
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// The sheet for the bench. console::kNotMet when the estimate behind it did not converge.
int run_recipe(const RecipeArguments& arguments, const console::Streams& streams);
struct WindowArguments {
  std::string case_file;
  std::optional<std::string> diameter, fibre_class, landing, least_throughput;
  std::vector<std::string> over;           ///< "KEY=FROM..TO" (plane) or with levels (one plane each)
  std::vector<std::string> setting_error;  ///< "KEY=VALUE"
  std::string output;                      ///< CSV of the points that were run; empty: none
  std::string boundary;                    ///< CSV of the boundary; empty: none
  bool force{};
  bool json{};
  answer::FormArguments form{};
  bool quiet{};                            ///< no progress
  int threads{};                           ///< 0: all
  UncertaintyArguments uncertainty;        ///< its `threads` is not used
  study::CaseOverlay overlay{};
};
/// console::kNotMet when nothing meets the target.
int run_window(const WindowArguments& arguments, const console::Streams& streams);

struct ExplainArguments {
  std::vector<std::string> cases;    ///< one, or two to compare
  std::vector<std::string> between;  ///< KEY=FROM,TO
  bool json{};
  answer::FormArguments form{};
  UncertaintyArguments sensitivity;  ///< samples: base samples of --sensitivity
  study::CaseOverlay overlay{};
};
/// console::kNotMet when there is no diameter to explain.
int run_explain(const ExplainArguments& arguments, const console::Streams& streams);
struct ReportArguments {
  std::string case_file;
  std::string output;
  std::string resolution{"9x9"};     ///< points of the map, SPEEDSxPRESSURES
  std::vector<std::string> vary;     ///< as of sweep: another map than speed and overpressure round the case
  bool map{true};
  int threads{};
  bool force{};                      ///< replace existing files
  bool json{};
  answer::FormArguments form{};
  study::CaseOverlay overlay{};
};
/// console::kNotMet when the estimate did not converge; the page then says so.
int run_report(const ReportArguments& arguments, const console::Streams& streams);

struct SweepCommand;  // app/sweep.hpp
int run_sweep_command(const SweepCommand& command, const console::Streams& streams);

}  // namespace whorl::app
