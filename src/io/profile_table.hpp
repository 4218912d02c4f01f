// The columns of a jet profile: CSV files and figures read the stations through this table.
#pragma once
#include <span>
#include <string>
#include <string_view>

#include "whorl/model/result.hpp"

namespace whorl::io {

struct ProfileColumn {
  std::string_view column;  ///< "diameter_um"
  std::string_view symbol;
  std::string_view unit;
  double scale;             ///< column value = (SI value - offset) * scale
  double offset;
  std::string_view description;
  double (*get)(const model::JetStation&);
};
[[nodiscard]] std::span<const ProfileColumn> profile_columns();

/// The whole profile as CSV text with a header line.
[[nodiscard]] std::string profile_csv(const std::vector<model::JetStation>& profile);

}  // namespace whorl::io
