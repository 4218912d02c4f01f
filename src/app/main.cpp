// The program: command line in, exit code out. The only file that includes CLI11.
#include <CLI/CLI.hpp>
#include <fstream>
#include <functional>
#include <iostream>
#include <memory>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "answer/provenance.hpp"
#include "app/browser_page.hpp"
#include "app/build_info.hpp"
#include "app/commands.hpp"
#include "app/sweep.hpp"
#include "console/command_docs.hpp"
#include "console/door.hpp"
#include "console/page.hpp"
#include "console/slip.hpp"
#include "run/kept_memory.hpp"
#include "run/progress.hpp"
#include "whorl/io/outputs.hpp"
#include "whorl/study/loaded_case.hpp"
#include "whorl/study/magnitudes.hpp"

namespace {

using whorl::console::Exit;
using whorl::console::Streams;

/// What the chosen command will do once the whole command line has been read, and what is laid over its cases.
struct Action {
  std::function<int(const Streams&)> run;
  whorl::study::CaseOverlay overlay;
};

/// Registers one command: `define` adds its options to the parser and to the options struct, `run` executes it.
template <typename Options, typename Define>
void add_command(CLI::App& program, Action& action, const std::string& name, const std::string& purpose,
                 const std::string& example, int (*run)(const Options&, const Streams&), Define define) {
  CLI::App* command = program.add_subcommand(name, purpose);
  command->footer("Example:\n  " + example);
  auto options = std::make_shared<Options>();
  define(*command, *options);
  command->callback([options, run, &action] {
    action.run = [options, run, overlay = &action.overlay](const Streams& s) {
      if constexpr (requires { options->overlay; }) options->overlay = *overlay;
      else static_cast<void>(overlay);
      return run(*options, s);
    };
  });
}

/// An option that may be given again, each time with one text: lists inside it are separated by commas and are read by
/// the program, not by the shell.
CLI::Option* repeated(CLI::Option* option) {
  return option->allow_extra_args(false)->multi_option_policy(CLI::MultiOptionPolicy::TakeAll);
}

/// The forms of a command that answers with a document.
void add_form(CLI::App& command, bool& json, whorl::answer::FormArguments& form) {
  command.add_flag("--json", json, "The same as --format json");
  command.add_option("--format", form.format, "text, json, markdown, latex or html (default text)");
  command.add_flag("--fragment", form.fragment, "LaTeX without preamble, for a document of your own");
}

void add_check(CLI::App& program, Action& action) {
  add_command<whorl::app::CheckOptions>(
      program, action, "check", "Validate case files without running them", "whorl check cases/*.json",
      &whorl::app::run_check, [](CLI::App& command, whorl::app::CheckOptions& options) {
        command.add_option("CASE", options.cases, "Case files (JSON)");
        add_form(command, options.json, options.form);
        command.add_flag("--schema", options.schema, "Print the JSON Schema of case files (for editors) and stop");
        command.add_flag("--key-table", options.key_table,
                         "Print every key with unit, limits and default as a Markdown table and stop");
      });
}

void add_materials(CLI::App& program, Action& action) {
  add_command<whorl::app::MaterialsOptions>(
      program, action, "materials", "List the property library, or show a material or a pair with its sources",
      "whorl materials PS tetrahydrofuran", &whorl::app::run_materials,
      [](CLI::App& command, whorl::app::MaterialsOptions& options) {
        command.add_option("NAME", options.names, "A polymer, a solvent, or a polymer and a solvent; none lists all");
        command.add_option("--add", options.add, "Materials file (JSON) whose records are added; may be repeated")
            ->type_name("FILE")
            ->allow_extra_args(false);
        command.add_flag("--record", options.record,
                         "Print the records of the names as a materials file, to start one of your own from; not with "
                         "--json or --format");
        add_form(command, options.json, options.form);
      });
}

/// "--name [N]": the number of samples, which may be left out.
void add_samples(CLI::App& command, const std::string& name, whorl::app::UncertaintyArguments& options,
                 const std::string& purpose) {
  command
      .add_option_function<std::vector<std::string>>(
          name,
          [&options](const std::vector<std::string>& values) {
            const std::string text = values.empty() ? std::string() : values.front();
            options.samples = text == "true" || text == "{}" ? std::string() : text;
          },
          purpose)
      ->type_name("[N]")
      ->expected(0, 1)
      ->multi_option_policy(CLI::MultiOptionPolicy::TakeLast);
  command.add_option("--sample-seed", options.seed, "Seed of the samples of " + name + " (default 1)");
}

void add_estimate(CLI::App& program, Action& action) {
  add_command<whorl::app::EstimateArguments>(
      program, action, "estimate", "What fibre, how much, dry or wet, at this operating point",
      "whorl estimate cases/pcl-chloroform.json --profile jet.csv", &whorl::app::run_estimate,
      [](CLI::App& command, whorl::app::EstimateArguments& options) {
        command.add_option("CASE", options.case_file, "Case file (JSON)")->required();
        CLI::Option* profile =
            command.add_option("--profile", options.profile, "Write the stations along the jet to this CSV file");
        command.add_option("--profile-columns", options.profile_columns,
                           "Columns of that file, as x_mm,y_mm,diameter_um; all unless asked otherwise")
            ->needs(profile);
        command.add_option("--thread-profile", options.thread_profile,
                           "Write the stations along torn threads, on their flight with the gas, to this CSV file");
        command.add_flag("--force", options.force, "Replace existing files");
        add_form(command, options.json, options.form);
        command.add_flag("--full", options.full,
                         "Everything behind the answer: jet, threads, gas, uncertainty, warnings");
        command.add_flag("--without-variants", options.without_variants,
                         "Leave out what JSON and other formats add beside the answer: one line in other air, with gas "
                         "and without, and over the run where gas tears it; half of the time or less");
        command.add_flag("--without-run", options.without_run,
                         "Leave out the lines at other moments of the run, and with them the spread of diameters over "
                         "it (--json with --without-variants; with --calibration they are followed nevertheless)");
        command.add_flag("--audit", options.audit,
                         "Close mass, momentum and energy balances along the jet and report them (--json)");
        command.add_flag("--cautions", options.cautions, "Print the cautions in full instead");
        add_samples(command, "--uncertainty", options.uncertainty,
                    "Medians and 5 to 95 % bands from N samples of every uncertainty (default 256)");
        command.add_flag("--all-in-full", options.uncertainty.all_in_full,
                         "With --uncertainty: run every sample with tension where the case has it (slow)");
        command.add_option("--threads", options.uncertainty.threads, "Threads for --uncertainty, 0 for all (default)");
      });
}

void add_sweep(CLI::App& program, Action& action) {
  add_command<whorl::app::SweepCommand>(
      program, action, "sweep", "The estimate over a grid, a list or a space-filling design, to CSV",
      "whorl sweep cases/pcl-chloroform.json --vary \"rotation_speed=6000 rpm..12000 rpm:7\" "
      "--vary \"gas_overpressure=0 MPa, 0.1 MPa, 0.2 MPa\" -o trend.csv",
      &whorl::app::run_sweep_command, [](CLI::App& command, whorl::app::SweepCommand& options) {
        auto& a = options.arguments;
        command.add_option("CASE", options.case_file, "Case file (JSON)")->required();
        repeated(command.add_option("--vary", a.spec.vary,
                                    "KEY=FROM..TO:POINTS [log] or KEY=VALUE, VALUE, ... (repeat for more keys)"));
        command.add_option("--design", a.spec.design, "grid, latin-hypercube or sobol");
        command.add_option("--points", a.spec.points, "Points of a latin-hypercube or sobol design");
        command.add_option("--seed", a.spec.seed, "Seed of the design (default 1)");
        command.add_option(
            "-o,--output", a.output,
            "CSV file, its metadata go to the same name with -metadata.json; or a database: NAME.sqlite");
        command.add_flag("--resume", a.resume, "Go on with an interrupted file of the same sweep");
        command.add_flag("--force", a.force, "Replace an existing file");
        command.add_option("--threads", a.threads, "Threads, 0 for all (default)");
        add_samples(command, "--uncertainty", a.uncertainty,
                    "Columns with medians, 5 to 95 % bands and shares of the classes from N samples per point");
        command.add_flag("--all-in-full", a.uncertainty.all_in_full,
                         "With --uncertainty: run every sample with tension where the case has it (slow)");
        command.add_option("--part", a.part, "Share k/n of the points");
        command.add_option("--columns", a.columns,
                           "all (default); short: the few that one reads, in that order; or answers: the two answers "
                           "with their probabilities, in a third of the time");
        command.add_flag("--quiet", a.quiet, "No progress, no summary");
        add_form(command, a.json, a.form);
      });
}

void add_window(CLI::App& program, Action& action) {
  add_command<whorl::app::WindowArguments>(
      program, action, "window",
      "Which settings give the wanted fibre: the region, its boundary, and where to try first",
      "whorl window cases/pcl-chloroform.json --diameter \"3 um..5 um\" --over \"rotation_speed=4000 rpm..12000 rpm\" "
      "--over \"gas_overpressure=0 MPa..0.2 MPa\"",
      &whorl::app::run_window, [](CLI::App& command, whorl::app::WindowArguments& options) {
        command
            .add_option("CASE", options.case_file, "Case file (JSON); its \"window\" block holds what is not said here")
            ->required();
        command.add_option("--diameter", options.diameter, "Dry diameter: FROM..TO, ..TO, FROM.. or VALUE ± ERROR");
        command.add_option("--class", options.fibre_class,
                           "Classes that will do, separated by commas (default continuous)");
        command.add_option("--landing", options.landing,
                           "dry, firm, tacky, wet, separated by commas, or any (default dry,firm)");
        command.add_option("--least-throughput", options.least_throughput,
                           "Polymer spun per time at the start, e.g. \"100 g/h\"");
        repeated(command.add_option("--over", options.over,
                                    "KEY=FROM..TO [log]: axis of the plane (two; usual: rotation_speed, "
                                    "gas_overpressure); with :POINTS or as a "
                                    "list KEY=VALUE, VALUE: one plane for each level"));
        repeated(command.add_option("--setting-error", options.setting_error,
                                    "KEY=VALUE: how well a setting can be held (one standard deviation)"));
        command.add_option("-o,--output", options.output, "CSV file of all points that were run");
        command.add_option("--boundary", options.boundary, "CSV file of the boundary");
        command.add_flag("--force", options.force, "Replace existing files");
        add_samples(command, "--uncertainty", options.uncertainty,
                    "Probability of meeting it over the plane, from N samples of every uncertainty per point");
        command.add_option("--threads", options.threads, "Threads, 0 for all (default)");
        command.add_flag("--quiet", options.quiet, "No progress");
        add_form(command, options.json, options.form);
      });
}

void add_merge(CLI::App& program, Action& action) {
  add_command<whorl::app::MergeArguments>(
      program, action, "merge", "Join the shares of a sweep (--part) into the file that one run would have written",
      "whorl merge share-1.csv share-2.csv share-3.csv -o trend.csv", &whorl::app::run_merge,
      [](CLI::App& command, whorl::app::MergeArguments& options) {
        command
            .add_option("SHARE", options.shares,
                        "CSV files of all shares, in any order, each with its metadata file; or databases")
            ->required();
        command.add_option("-o,--output", options.output, "The joined CSV file, or a database: NAME.sqlite")
            ->required();
        command.add_flag("--force", options.force, "Replace an existing file");
        command.add_flag("--quiet", options.quiet, "No summary");
        add_form(command, options.json, options.form);
      });
}

void add_figure(CLI::App& program, Action& action) {
  add_command<whorl::app::FigureArguments>(
      program, action, "figure", "Figures for print from a case or from result files",
      "whorl figure cases/pcl-chloroform.json --kind path -o path.svg\n"
      "  whorl figure trend.csv --kind map --measured trials.csv --width page -o map.pdf",
      &whorl::app::run_figure, [](CLI::App& command, whorl::app::FigureArguments& options) {
        command
            .add_option("INPUT", options.inputs,
                        "A case, or files of sweep (CSV or database), estimate --json, estimate --profile, explain "
                        "--json, window --json or calibrate")
            ->required();
        command.add_option(
            "--kind", options.kind,
            "path, profile, map, trend, distribution, budget, split, window or fit (default: what suits the input)");
        command.add_option("-o,--output", options.output, "The figure; its ending chooses SVG, PDF or PNG")->required();
        command.add_option("--width", options.width, "column (85 mm, default), page (175 mm) or a length");
        command.add_option("--height", options.height, "A length (default: what suits the kind)");
        command.add_option("--font-size", options.font_size, "Points as printed (default 8)");
        command.add_option("--dpi", options.dpi, "Dots per inch of a PNG (default 600)");
        command.add_flag("--caption", options.caption, "Write the caption beside the figure, as .txt");
        command.add_option("--x", options.x, "Column or key of the horizontal axis");
        repeated(command.add_option("--y", options.y, "Column of the vertical axis; repeat for more panels"));
        command.add_option("--z", options.z, "Column that a map shows (default dry_diameter_um)");
        command.add_option("--series", options.series, "Column or key whose values become the lines of a trend");
        repeated(
            command.add_option("--where", options.where, "KEY=VALUE: rows of a sweep to keep (repeat for more keys)"));
        repeated(
            command.add_option("--vary", options.vary, "As of sweep: what to compute for a map or trend of a case"));
        command.add_option("--levels", options.levels, "Iso-lines of a map, separated by commas");
        command.add_option("--measured", options.measured,
                           "CSV file of measured points (map, trend) or diameters (distribution)");
        command.add_option("--threads", options.threads, "Threads, 0 for all (default)");
        command.add_flag("--force", options.force, "Replace existing files");
        add_form(command, options.json, options.form);
      });
}

void add_calibrate(CLI::App& program, Action& action) {
  add_command<whorl::app::CalibrateArguments>(
      program, action, "calibrate",
      "Learn from trials: the law of their diameters, or fitted numbers of the model; what to try next",
      "whorl calibrate cases/pcl-chloroform.json cases/measured/pcl-chloroform-trials.csv -o rig.json --next-trials 3",
      &whorl::app::run_calibrate, [](CLI::App& command, whorl::app::CalibrateArguments& options) {
        command
            .add_option("CASE", options.case_file,
                        "Case file (JSON); or the table of trials alone, for a law without physics")
            ->required();
        command.add_option("DATA", options.data, "Trials with measured diameters (CSV or .xlsx)");
        repeated(command.add_option(
            "--fit", options.fit, "Fit these keys of the model instead, separated by commas, e.g. model.excess_draw"));
        command.add_option(
            "--reproducibility", options.reproducibility,
            "Scatter of the mean between repeated runs (default: learned from the trials; with --fit 5 %)");
        command.add_option("-o,--output", options.output,
                           "Write the calibration to this file, for --calibration of every command");
        command.add_option("--residuals", options.residuals,
                           "Write measured, calculated and residuals to this CSV file");
        command.add_option("--next-trials", options.next_trials, "Suggest this many settings that would tell most");
        repeated(command.add_option(
            "--over", options.over,
            "Candidates for them, as --vary of sweep (default speed and overpressure about the case)"));
        repeated(command.add_option("--step", options.step,
                                    "KEY=VALUE: what gauge or motor resolves; next trials are rounded to it"));
        command.add_option(
            "--aim", options.aim,
            "What the next trials should narrow: parameters (default with --fit), diameter (else; at the case's own "
            "setting), region (over all candidates), window (where the wanted diameter ends)");
        command.add_option("--diameter", options.diameter,
                           "Wanted dry diameter for --aim window, as of window (default: the case's window block)");
        command.add_option("--threads", options.threads, "Threads, 0 for all (default)");
        command.add_flag("--force", options.force, "Replace existing files");
        add_form(command, options.json, options.form);
      });
}

void add_diameters(CLI::App& program, Action& action) {
  add_command<whorl::app::DiametersArguments>(
      program, action, "diameters", "Measured diameters: mean, spread, shape, enough of them, and beside an estimate",
      "whorl diameters trial-1.csv trial-2.csv --unit um --case cases/pcl-chloroform.json", &whorl::app::run_diameters,
      [](CLI::App& command, whorl::app::DiametersArguments& options) {
        command.add_option("LIST", options.lists, "Text files, one measured diameter per line or a column of them")
            ->required();
        command.add_option("--unit", options.unit, "nm, um, mm or m, when the heading does not say it");
        command.add_option("--column", options.column, "Heading or number of the column, when there are several");
        command.add_option("--decimal", options.decimal, "comma or point, where the list leaves it open");
        command.add_option("--case", options.case_file, "Compare with the estimate of this case over the emptying run");
        add_form(command, options.json, options.form);
      });
}

void add_recipe(CLI::App& program, Action& action) {
  add_command<whorl::app::RecipeArguments>(
      program, action, "recipe", "The sheet for the bench: weigh-out, run, vapour, gas energy, rotor, cautions",
      "whorl recipe cases/pcl-chloroform.json --runs 3 --room-volume \"40 m3\" --air-changes \"8 h-1\" --page "
      "recipe.html",
      &whorl::app::run_recipe, [](CLI::App& command, whorl::app::RecipeArguments& options) {
        command.add_option("CASE", options.case_file, "Case file (JSON)")->required();
        command.add_option("--runs", options.runs, "Runs that the batch is for (default 1)");
        command.add_option("--allowance", options.allowance, "Made beyond that (default 10 %)");
        command.add_option("--interval", options.interval, "From start to start of two runs (default 30 min)");
        command.add_option("--room-volume", options.room_volume, "Volume of the room (default 30 m3)");
        command.add_option("--air-changes", options.air_changes, "Changes of fresh air per time (default 6 h-1)");
        command.add_option("--mixing-factor", options.mixing_factor,
                           "1: fresh air mixes at once; more: it does not (default 3)");
        command.add_option("--collector-height", options.collector_height, "Height of the band in which fibre lands");
        command.add_option("--country", options.country,
                           "Whose exposure limits, two letters (default: all in the library)");
        command.add_option("--rotor-material", options.rotor_material,
                           "Of the vessel wall (default aluminium-6061-t6)");
        command.add_option("--safety-factor", options.safety_factor, "On the yield strength (default 4)");
        command.add_option("--page", options.page, "Also write a page for printing (HTML)")->type_name("FILE");
        command.add_flag("--force", options.force, "Replace existing files");
        add_form(command, options.json, options.form);
      });
}

void add_explain(CLI::App& program, Action& action) {
  add_command<whorl::app::ExplainArguments>(
      program, action, "explain", "Why: what made the diameter, what changed it, which uncertainty matters",
      "whorl explain cases/pcl-chloroform.json\n"
      "  whorl explain cases/pcl-chloroform.json --between \"rotation_speed=6000 rpm,12000 rpm\" --format latex > "
      "change.tex",
      &whorl::app::run_explain, [](CLI::App& command, whorl::app::ExplainArguments& options) {
        command.add_option("CASE", options.cases, "A case, or two to compare")->required();
        repeated(command.add_option("--between", options.between,
                                    "KEY=FROM,TO: the change of the case between two values (repeat for more keys)"));
        add_samples(command, "--sensitivity", options.sensitivity,
                    "Sobol indices of the diameter over every stated uncertainty, from N base samples (default 64)");
        command.add_option("--threads", options.sensitivity.threads, "Threads, 0 for all (default)");
        add_form(command, options.json, options.form);
      });
}

void add_report(CLI::App& program, Action& action) {
  add_command<whorl::app::ReportArguments>(
      program, action, "report", "One self-contained HTML page with results, figures and a map to explore",
      "whorl report cases/pcl-chloroform.json -o report.html", &whorl::app::run_report,
      [](CLI::App& command, whorl::app::ReportArguments& options) {
        command.add_option("CASE", options.case_file, "Case file (JSON)")->required();
        command.add_option("-o,--output", options.output, "The HTML file")->required();
        command.add_option("--resolution", options.resolution, "Points of the map, SPEEDSxPRESSURES (default 9x9)");
        repeated(command.add_option("--vary", options.vary,
                                    "As of sweep, two keys: another map than speed and overpressure round the case"));
        command.add_flag_callback("--no-map", [&options] { options.map = false; }, "Leave the map out");
        command.add_option("--threads", options.threads, "Threads, 0 for all (default)");
        command.add_flag("--force", options.force, "Replace existing files");
        add_form(command, options.json, options.form);
      });
}

void add_page(CLI::App& program, Action& action) {
  add_command<whorl::app::BrowserPageArguments>(
      program, action, "page", "One page to open in a browser, with the whole model inside", "whorl page -o whorl.html",
      &whorl::app::run_browser_page, [](CLI::App& command, whorl::app::BrowserPageArguments& options) {
        command.add_option("-o,--output", options.output, "HTML file (default whorl.html)");
        command.add_flag("--force", options.force, "Replace an existing file");
        command.add_flag("--json", options.json, "Say in JSON what was written");
      });
}

whorl::console::CommandText command_text(const CLI::App& app) {
  whorl::console::CommandText text{app.get_name(), app.get_description(), app.get_footer(), {}};
  for (const CLI::Option* option : app.get_options([](const CLI::Option* o) { return !o->get_group().empty(); })) {
    whorl::console::OptionText entry;
    entry.positional = option->get_positional();
    if (entry.positional) entry.names.push_back(option->get_name(true));
    else {
      for (const auto& name : option->get_snames()) entry.names.push_back("-" + name);
      for (const auto& name : option->get_lnames()) entry.names.push_back("--" + name);
    }
    if (option->get_items_expected_max() > 0) {
      entry.value = option->get_type_name();
      entry.optional_value = option->get_items_expected_min() == 0;
    }
    entry.many = option->get_expected_max() >= CLI::detail::expected_max_vector_size;
    entry.required = option->get_required();
    entry.purpose = option->get_description();
    text.options.push_back(entry);
  }
  return text;
}

/// Hidden: what the build calls for man pages and completion of every command that --help shows.
void add_command_docs(CLI::App& program, Action& action) {
  CLI::App* command = program.add_subcommand("command-docs", "Write man pages and shell completion")->group("");
  auto folder = std::make_shared<std::string>();
  command->add_option("DIR", *folder, "Folder to write to")->required();
  command->callback([folder, &program, &action] {
    action.run = [folder, &program](const Streams&) {
      whorl::console::ProgramText text{command_text(program), {}, WHORL_VERSION};
      for (const CLI::App* each : program.get_subcommands([](const CLI::App* a) { return !a->get_group().empty(); }))
        text.commands.push_back(command_text(*each));
      whorl::console::write_command_docs(text, *folder);
      std::ofstream(*folder + "/columns.md") << whorl::io::output_table_markdown();  // for docs/formats/sweep.md
      return Exit::kDone;
    };
  });
}

/// What was given on the command line and decides what comes out, for whorl::answer::use_options(). Options that only
/// say where it goes, in which form or how fast are left out, so that the same result has the same bytes; inputs are
/// named with their digests elsewhere.
std::vector<std::string> options_that_decide(const CLI::App& command) {
  static const std::set<std::string> kOthers{
      "--help",   "--threads", "--json",    "--output",          "--quiet",          "--progress",  "--progress-every",
      "--force",  "--resume",  "--profile", "--profile-columns", "--thread-profile", "--residuals", "--boundary",
      "--page",   "--caption", "--format",  "--fragment"};
  static const std::set<std::string> kFiles{"--calibration", "--measured", "--case", "--add"};
  const auto quoted = [](const std::string& text) {
    return text.find_first_of(" \t=<>|*") == std::string::npos ? text : '"' + text + '"';
  };
  std::vector<std::string> out;
  const auto take = [&](const CLI::App& app) {
    for (const CLI::Option* option : app.get_options()) {
      if (option->count() == 0 || option->get_positional() || option->get_lnames().empty()) continue;
      const std::string name = "--" + option->get_lnames().front();
      if (kOthers.count(name) != 0) continue;
      if (option->get_items_expected_max() == 0) {
        out.push_back(name);
        continue;
      }
      for (std::string value : option->results()) {
        if (kFiles.count(name) != 0) value.erase(0, value.rfind('/') + 1);
        const bool none = option->get_items_expected_min() == 0 && (value.empty() || value == "true" || value == "{}");
        out.push_back(none ? name : name + ' ' + quoted(value));
      }
    }
  };
  take(command);
  if (command.get_parent() != nullptr) take(*command.get_parent());  // --calibration
  return out;
}

/// --help and --version, or what is wrong with the command line and what was most likely meant.
int end_of_parsing(const CLI::App& program, const CLI::ParseError& error, const std::vector<std::string>& words,
                   const Streams& streams) {
  std::ostringstream out, err;
  const int exit = program.exit(error, out, err);
  whorl::console::Page(streams.out).out() << out.str();
  if (exit == 0) return Exit::kDone;
  const auto options = [](const CLI::App& app) {
    std::vector<std::string> names;
    for (const auto& option : command_text(app).options)
      if (!option.positional) names.insert(names.end(), option.names.begin(), option.names.end());
    return names;
  };
  std::vector<whorl::console::KnownCommand> commands;
  for (const CLI::App* each : program.get_subcommands([](const CLI::App* a) { return !a->get_group().empty(); }))
    commands.push_back({each->get_name(), options(*each)});
  const std::string slip = whorl::console::slip_text(words, options(program), commands);
  streams.err << (slip.empty() ? err.str()
                               : whorl::console::message_text(
                                     "whorl: " + slip +
                                     "\n'whorl --help' lists the commands, 'whorl COMMAND --help' its options.\n"));
  return Exit::kBadInput;
}

int run(int argc, char** argv, const Streams& streams) {
  CLI::App program{"whorl: what fibre, how much, and how dry a spinning vessel under gas pressure will make", "whorl"};
  program.set_version_flag("--version", whorl::app::version_text(CLI11_VERSION));
  program.require_subcommand(1);
  program.fallthrough();
  Action action;
  program
      .add_option("--calibration", action.overlay.calibration,
                  "Calibration file laid over the case (written by calibrate -o); works with every command")
      ->type_name("FILE");
  repeated(program.add_option("--set", action.overlay.settings,
                              "KEY=VALUE laid over the case, e.g. \"model.tier=inertial\"; may be repeated; works "
                              "with every command"))
      ->type_name("TEXT");
  program.add_flag_function("--progress", [](std::int64_t) { whorl::run::use_progress(true); },
                            "Say on standard error how far a long run is, also where that is no terminal");
  program
      .add_option_function<double>(
          "--progress-every", [](const double& seconds) { whorl::run::use_progress_every(seconds); },
          "The same, one line in so many seconds (2 unless asked otherwise); 0: after every run")
      ->type_name("SECONDS");
  program.footer(
      whorl::console::exit_code_line() + "\n"
      "'whorl COMMAND --help' shows the options of a command and an example.");
  add_estimate(program, action);
  add_sweep(program, action);
  add_window(program, action);
  add_merge(program, action);
  add_explain(program, action);
  add_figure(program, action);
  add_calibrate(program, action);
  add_diameters(program, action);
  add_recipe(program, action);
  add_report(program, action);
  add_page(program, action);
  add_check(program, action);
  add_materials(program, action);
  add_command_docs(program, action);

  try {
    program.parse(argc, argv);
  } catch (const CLI::ParseError& error) {
    return end_of_parsing(program, error, {argv + 1, argv + argc}, streams);
  }
  whorl::answer::use_options(options_that_decide(*program.get_subcommands().front()));
  const int exit = action.run(streams);
  whorl::console::say_magnitudes(streams.err, whorl::study::take_magnitudes());
  return exit;
}

}  // namespace

int main(int argc, char** argv) {
  whorl::run::keep_memory();
  std::ios::sync_with_stdio(false);
  whorl::console::use_page_columns(whorl::console::terminal_columns(1));
  return whorl::console::run_behind_door([&](const Streams& streams) { return run(argc, argv, streams); }, std::cout,
                                         std::cerr);
}
