#include "whorl/io/profile_table.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>

#include "io/table.hpp"
#include "io/unit_text.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/model/error.hpp"

namespace whorl::io {
namespace {

using S = model::JetStation;

constexpr std::array kColumns{
    ProfileColumn{"arc_length_mm", "s", "mm", 1e3, 0.0, "distance along the jet from the orifice exit",
                  [](const S& s) { return s.arc_length_m; }},
    ProfileColumn{"time_ms", "t", "ms", 1e3, 0.0, "time since the material left the orifice",
                  [](const S& s) { return s.time_s; }},
    ProfileColumn{"x_mm", "x", "mm", 1e3, 0.0, "turning frame, radially out through the orifice",
                  [](const S& s) { return s.x_m; }},
    ProfileColumn{"y_mm", "y", "mm", 1e3, 0.0, "turning frame, in the direction of rotation",
                  [](const S& s) { return s.y_m; }},
    ProfileColumn{"z_mm", "z", "mm", 1e3, 0.0, "upwards", [](const S& s) { return s.z_m; }},
    ProfileColumn{"radius_mm", "r", "mm", 1e3, 0.0, "distance from the axis", [](const S& s) { return s.radius_m; }},
    ProfileColumn{"speed_m_s", "u", "m/s", 1.0, 0.0, "along the jet, relative to the vessel",
                  [](const S& s) { return s.speed_m_s; }},
    ProfileColumn{"lab_speed_m_s", "v", "m/s", 1.0, 0.0, "in the laboratory",
                  [](const S& s) { return s.lab_speed_m_s; }},
    ProfileColumn{"diameter_um", "d", "um", 1e6, 0.0, "of the jet with its solvent",
                  [](const S& s) { return s.diameter_m; }},
    ProfileColumn{"temperature_degC", "T", "degC", 1.0, 273.15, "of the jet",
                  [](const S& s) { return s.temperature_K; }},
    ProfileColumn{"solvent_mass_fraction", "w_s", "1", 1.0, 0.0, "mean over the cross-section",
                  [](const S& s) { return s.solvent_mass_fraction; }},
    ProfileColumn{"surface_solvent_fraction", "w_s,surf", "1", 1.0, 0.0, "mass fraction at the surface",
                  [](const S& s) { return s.surface_solvent_fraction; }},
    ProfileColumn{"viscosity_Pa_s", "eta", "Pa s", 1.0, 0.0, "zero-shear, at mean composition",
                  [](const S& s) { return s.viscosity_Pa_s; }},
    ProfileColumn{"strain_rate_1_s", "du/ds", "1/s", 1.0, 0.0, "rate of stretching",
                  [](const S& s) { return s.strain_rate_1_s; }},
    ProfileColumn{"axial_stress_kPa", "tau_ss - tau_rr", "kPa", 1e-3, 0.0,
                  "viscous and elastic (inertial tier: what this stretching would generate)",
                  [](const S& s) { return s.axial_stress_Pa; }},
    ProfileColumn{"tension_uN", "F", "uN", 1e6, 0.0,
                  "axial force (inertial tier: left out of the march, shown as a check)",
                  [](const S& s) { return s.tension_N; }},
    ProfileColumn{"momentum_flux_uN", "m u", "uN", 1e6, 0.0, "mass flow times speed",
                  [](const S& s) { return s.momentum_flux_N; }},
    ProfileColumn{"evaporation_g_m2_s", "n", "g/(m2 s)", 1e3, 0.0, "solvent leaving the surface",
                  [](const S& s) { return s.evaporation_kg_m2_s; }},
    ProfileColumn{"air_reynolds", "Re_a", "1", 1.0, 0.0, "on diameter and relative wind",
                  [](const S& s) { return s.reynolds_air; }},
    ProfileColumn{"capillary_gain", "G", "1", 1.0, 0.0, "growth exponent of the worst disturbance so far",
                  [](const S& s) { return s.capillary_gain; }},
    ProfileColumn{"glass_margin_K", "T - T_g", "K", 1.0, 0.0, "surface temperature above its glass transition",
                  [](const S& s) { return s.glass_margin_K; }},
    ProfileColumn{"solid", "", "1", 1.0, 0.0, "1 where the fibre counts as solid",
                  [](const S& s) { return s.solid ? 1.0 : 0.0; }},
};

using T = model::TornThreadStation;

constexpr std::array kThreadColumns{
    ThreadColumn{"arc_length_mm", "s", "mm", 1e3, 0.0, "distance flown from the orifice, straight out",
                 [](const T& t) { return t.distance_m; }},
    ThreadColumn{"time_ms", "t", "ms", 1e3, 0.0, "time since the gas tore the liquid",
                 [](const T& t) { return t.time_s; }},
    ThreadColumn{"speed_m_s", "u", "m/s", 1.0, 0.0, "mean speed of gas and threads",
                 [](const T& t) { return t.speed_m_s; }},
    ThreadColumn{"diameter_um", "d", "um", 1e6, 0.0, "of one thread with its solvent",
                 [](const T& t) { return t.diameter_m; }},
    ThreadColumn{"temperature_degC", "T", "degC", 1.0, 273.15, "of the threads",
                 [](const T& t) { return t.temperature_K; }},
    ThreadColumn{"solvent_mass_fraction", "w_s", "1", 1.0, 0.0, "mean over the cross-section",
                 [](const T& t) { return t.solvent_mass_fraction; }},
    ThreadColumn{"viscosity_Pa_s", "eta", "Pa s", 1.0, 0.0, "zero-shear, at mean composition",
                 [](const T& t) { return t.viscosity_Pa_s; }},
    ThreadColumn{"evaporation_g_m2_s", "n", "g/(m2 s)", 1e3, 0.0, "solvent leaving the surface",
                 [](const T& t) { return t.evaporation_kg_m2_s; }},
    ThreadColumn{"gas_temperature_degC", "T_g,m", "degC", 1.0, 273.15, "of the gas round the threads",
                 [](const T& t) { return t.gas_temperature_K; }},
    ThreadColumn{"gas_vapour_fraction", "y_m", "1", 1.0, 0.0, "mole fraction of solvent vapour in that gas",
                 [](const T& t) { return t.vapour_fraction; }},
    ThreadColumn{"solid", "", "1", 1.0, 0.0, "1 where the thread counts as solid",
                 [](const T& t) { return t.solid ? 1.0 : 0.0; }},
};

template <class Station>
double value_of(const StationColumn<Station>& column, const Station& station) {
  return (column.get(station) - column.offset) * column.scale;
}

template <class Station>
std::string csv_of(std::span<const StationColumn<Station>> columns, const std::vector<Station>& profile) {
  std::string text;
  for (std::size_t i = 0; i < columns.size(); ++i) {
    if (i > 0) text.push_back(',');
    text += columns[i].column;
  }
  text.push_back('\n');
  for (const auto& station : profile) {
    for (std::size_t i = 0; i < columns.size(); ++i) {
      if (i > 0) text.push_back(',');
      append_number(text, value_of(columns[i], station));
    }
    text.push_back('\n');
  }
  return text;
}

}  // namespace

std::span<const ProfileColumn> profile_columns() { return kColumns; }
std::span<const ThreadColumn> thread_columns() { return kThreadColumns; }

std::vector<ProfileColumn> chosen_profile_columns(std::string_view list, const std::string& option) {
  if (list.empty()) return {kColumns.begin(), kColumns.end()};
  std::vector<ProfileColumn> chosen;
  for (std::size_t from = 0; from <= list.size();) {
    const std::size_t to = std::min(list.find(',', from), list.size());
    const std::string_view name = trimmed(list.substr(from, to - from));
    from = to + 1;
    const auto named = [&](const ProfileColumn& c) { return c.column == name; };
    const auto one = std::find_if(kColumns.begin(), kColumns.end(), named);
    if (one == kColumns.end() || std::any_of(chosen.begin(), chosen.end(), named)) {
      std::string all;
      for (const ProfileColumn& column : kColumns) all += (all.empty() ? "" : ", ") + std::string(column.column);
      const bool unknown = one == kColumns.end();
      throw InputError("", option,
                       unknown ? "no column is called \"" + std::string(name) + '"'
                               : "column \"" + std::string(name) + "\" is asked for twice",
                       all + (unknown ? "" : "; each at most once"));
    }
    chosen.push_back(*one);
  }
  return chosen;
}

std::vector<double> profile_numbers(const std::vector<model::JetStation>& profile, std::string_view column) {
  const auto one = std::find_if(kColumns.begin(), kColumns.end(), [&](const auto& c) { return c.column == column; });
  if (one == kColumns.end()) throw std::invalid_argument("no column of a profile: " + std::string(column));
  std::vector<double> out;
  out.reserve(profile.size());
  for (const auto& station : profile) {
    const double value = value_of(*one, station);
    const double shown = std::abs(value) < 1.0 / kLargestNumber ? 0.0 : value;
    out.push_back(std::isfinite(value) ? shown : NAN);
  }
  return out;
}

std::string profile_csv(const std::vector<model::JetStation>& profile) { return csv_of(profile_columns(), profile); }
std::string profile_csv(const std::vector<model::JetStation>& profile, std::span<const ProfileColumn> columns) {
  return csv_of(columns, profile);
}
std::string profile_csv(const std::vector<model::TornThreadStation>& profile) {
  return csv_of(thread_columns(), profile);
}

}  // namespace whorl::io
