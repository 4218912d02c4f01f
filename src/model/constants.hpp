// Physical constants (SI). Source: CODATA 2018 / SI definition 2019, from memory (exact by definition where marked).
#pragma once

namespace whorl::model {

inline constexpr double kPi = 3.14159265358979323846;
inline constexpr double kGasConstant_J_mol_K = 8.31446261815324;      ///< exact (N_A k_B)
inline constexpr double kStandardGravity_m_s2 = 9.80665;              ///< exact (CGPM 1901)
inline constexpr double kMolarMassAir_kg_mol = 28.9647e-3;            ///< dry air, from memory (CIPM-2007)
inline constexpr double kMolarMassWater_kg_mol = 18.015e-3;           ///< of the moisture of the air, from memory
inline constexpr double kStandardAtmosphere_Pa = 101325.0;            ///< exact
inline constexpr double kReferenceTemperature_K = 298.15;             ///< 25 degC, of the property library

}  // namespace whorl::model
