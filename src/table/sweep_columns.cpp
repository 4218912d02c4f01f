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

std::vector<const io::Output*> all_outputs() {
  std::vector<const io::Output*> list;
  for (const io::Output& output : io::outputs()) list.push_back(&output);
  return list;
}

std::vector<const io::Output*> few_outputs() {
  std::vector<const io::Output*> list;
  for (const std::string_view name : kFew)
    if (const io::Output* output = io::find_output(name)) list.push_back(output);
  return list;
}

}  // namespace

SweepColumns parse_sweep_columns(const std::string& text) {
  if (text == "all") return SweepColumns::all;
  if (text == "short") return SweepColumns::few;
  throw InputError("", "--columns", '"' + text + '"', "all or short");
}

const std::vector<const io::Output*>& sweep_outputs(SweepColumns columns) {
  static const std::vector<const io::Output*> all = all_outputs();
  static const std::vector<const io::Output*> few = few_outputs();
  return columns == SweepColumns::few ? few : all;
}

}  // namespace whorl::table
