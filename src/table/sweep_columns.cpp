#include "table/sweep_columns.hpp"

#include <array>
#include <string_view>

#include "whorl/model/error.hpp"

namespace whorl::table {
namespace {

// As one asks: how thick, how sure, how else, how dry, how much, how long.
constexpr std::array<std::string_view, 10> kFew{
    "dry_diameter_um",  "diameter_low_um",  "diameter_high_um",       "tearing_probability", "thread_diameter_um",
    "line_diameter_um", "residual_solvent", "polymer_throughput_g_h", "run_time_s",          "emptied_fraction"};

// What stands on the map of the page: the likelier answer with its band, the other one, and how likely what is.
constexpr std::array<std::string_view, 11> kAnswers{
    "dry_diameter_um",     "diameter_low_um",  "diameter_high_um",   "torn",
    "tearing_probability", "other_diameter_um", "probability_even",  "probability_beaded",
    "probability_drops",   "probability_wet",  "probability_nothing"};

std::vector<const io::Output*> all_outputs() {
  std::vector<const io::Output*> list;
  for (const io::Output& output : io::outputs()) list.push_back(&output);
  return list;
}

template <std::size_t N>
std::vector<const io::Output*> named_outputs(const std::array<std::string_view, N>& names) {
  std::vector<const io::Output*> list;
  for (const std::string_view name : names)
    if (const io::Output* output = io::find_output(name)) list.push_back(output);
  return list;
}

}  // namespace

SweepColumns parse_sweep_columns(const std::string& text) {
  for (const auto columns : {SweepColumns::all, SweepColumns::few, SweepColumns::answers})
    if (text == to_string(columns)) return columns;
  throw InputError("", "--columns", '"' + text + '"', "all, short or answers");
}

std::string to_string(SweepColumns columns) {
  switch (columns) {
    case SweepColumns::few: return "short";
    case SweepColumns::answers: return "answers";
    case SweepColumns::all: break;
  }
  return "all";
}

const std::vector<const io::Output*>& sweep_outputs(SweepColumns columns) {
  static const std::vector<const io::Output*> all = all_outputs();
  static const std::vector<const io::Output*> few = named_outputs(kFew);
  static const std::vector<const io::Output*> answers = named_outputs(kAnswers);
  return columns == SweepColumns::few ? few : columns == SweepColumns::answers ? answers : all;
}

}  // namespace whorl::table
