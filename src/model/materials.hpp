// Records of the property library: what is known of a polymer, a solvent and a pair of them.
// Filled by io from data/*.json and from users' own files; read by model/solution.
#pragma once
#include <optional>
#include <string>
#include <vector>

namespace whorl::model {

/// Where a value came from; printed with every property.
enum class Origin {
  measured,   ///< given in the case file
  library,    ///< property library, with source
  estimated,  ///< computed from other properties by a stated relation
  assumed     ///< a stated default for want of data; always comes with a warning
};

/// A number with its provenance. `relative_sd` is one standard deviation as a fraction of the value.
struct Property {
  double value{};
  double relative_sd{};
  Origin origin{Origin::library};
  std::string source;
};

/// Entry of an exposure-limit list. Limits differ by country and change: source and date are part of the value.
struct ExposureLimit {
  double mass_concentration_kg_m3{};
  std::string kind;    ///< e.g. "8 h time-weighted average", "short term (15 min)"
  std::string body;    ///< who set it, e.g. "EU 2019/1831", "NIOSH REL"
  std::string country; ///< where it is in use: two letters as in ISO 3166-1, "EU" for the union; empty: not stated
  std::string date;    ///< year or date of the list it was taken from
  std::string source;  ///< reference or "from memory"
};

/// Solvent record. T in kelvin throughout.
struct Solvent {
  std::string id;       ///< short key, lower case, e.g. "chloroform"
  std::string name;     ///< as printed
  std::string cas;      ///< CAS registry number
  Property molar_mass;  ///< [kg/mol]

  Property density_25;          ///< liquid density at 298.15 K [kg/m3]
  Property density_slope;       ///< d(density)/dT [kg/(m3 K)], negative
  Property viscosity_25;        ///< dynamic viscosity at 298.15 K [Pa s]
  Property viscosity_energy;    ///< Arrhenius (Andrade) activation energy of viscosity [J/mol]
  Property surface_tension_25;  ///< against air at 298.15 K [N/m]
  Property surface_tension_slope;  ///< d(sigma)/dT [N/(m K)], negative
  Property heat_capacity;          ///< liquid, near 298 K [J/(kg K)]
  Property vapour_heat_capacity;   ///< ideal gas, near 298 K [J/(kg K)]
  Property thermal_conductivity;   ///< liquid, near 298 K [W/(m K)]

  /// Antoine: log10(p / Pa) = a - b / (T + c), T in K; valid [t_min, t_max] K.
  struct Antoine {
    double a{}, b{}, c{}, t_min_K{}, t_max_K{};
    double relative_sd{};
    std::string source;
  };
  std::vector<Antoine> antoine;  ///< one or more, ordered by range

  Property boiling_point;         ///< at 101.325 kPa [K]
  Property critical_temperature;  ///< [K]
  Property latent_heat_25;        ///< enthalpy of vaporisation at 298.15 K [J/kg]
  Property diffusivity_air_25;    ///< vapour in air at 298.15 K, 101.325 kPa [m2/s]
  Property glass_transition;      ///< of the solvent itself (free-volume mixing rule) [K]

  bool water_miscible{};             ///< fully miscible with water at room temperature
  std::string water_miscibility_note;

  std::vector<ExposureLimit> exposure_limits;
  std::optional<Property> lower_flammability;  ///< volume fraction of vapour in air; empty = none listed
  std::optional<Property> upper_flammability;  ///< volume fraction
  std::optional<Property> flash_point;         ///< closed cup [K]
  std::string hazard_note;                     ///< own words; never "harmless"
};

/// Polymer record.
struct Polymer {
  std::string id;    ///< short key, e.g. "PMMA"
  std::string name;  ///< as printed
  Property density;                  ///< bulk, amorphous or as supplied, near 298 K [kg/m3]
  Property glass_transition;         ///< high molar mass limit [K]
  Property heat_capacity;            ///< near 298 K [J/(kg K)]
  Property entanglement_molar_mass;  ///< M_e [kg/mol]; convention in `entanglement_convention`
  std::string entanglement_convention;  ///< e.g. "M_e = (4/5) rho R T / G_N0"
  std::optional<Property> surface_tension;      ///< of the melt extrapolated to 298 K [N/m]
  std::optional<Property> melting_point;        ///< equilibrium T_m0 [K]; empty = does not crystallise
  std::optional<Property> heat_of_fusion;       ///< of the perfect crystal [J/kg]
  std::optional<Property> repeat_molar_mass;    ///< repeat unit [kg/mol]
  std::optional<Property> thermal_expansion_melt;  ///< volumetric, above T_g [1/K]
};

/// What is known of one polymer in one solvent.
struct Pair {
  std::string polymer;  ///< id
  std::string solvent;  ///< id
  bool soluble{true};   ///< false: a listed non-solvent; the case is refused
  std::string note;

  struct MarkHouwink {
    double k_m3_kg{};   ///< [eta] = k M^a, M in kg/mol (converted from the usual dL/g and g/mol on reading) [m3/kg]
    double exponent{};  ///< a
    double temperature_K{};
    double m_min_kg_mol{}, m_max_kg_mol{};
    double relative_sd{};
    std::string source;
  };
  std::optional<MarkHouwink> mark_houwink;
  std::optional<Property> martin_constant;    ///< k_M in eta_sp = c[eta] exp(k_M c[eta]) [-]
  std::optional<Property> flory_huggins_chi;  ///< composition average near 298 K [-]

  /// Mutual diffusion measurements: solvent mass fraction against D [m2/s] at one temperature.
  struct DiffusionPoint {
    double solvent_mass_fraction{}, diffusivity_m2_s{}, temperature_K{};
  };
  std::vector<DiffusionPoint> diffusion;
  std::string diffusion_source;
};

/// The whole library: built-in data plus whatever files the user adds (later entries replace earlier ones).
struct Library {
  std::vector<Polymer> polymers;
  std::vector<Solvent> solvents;
  std::vector<Pair> pairs;

  /// nullptr when there is none.
  [[nodiscard]] const Polymer* polymer(const std::string& id) const;
  [[nodiscard]] const Solvent* solvent(const std::string& id) const;
  [[nodiscard]] const Pair* pair(const std::string& polymer_id, const std::string& solvent_id) const;
};

}  // namespace whorl::model
