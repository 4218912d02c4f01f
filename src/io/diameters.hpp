// Lists of measured diameters as image analysis writes them: one number per fibre, somewhere in a text file.
#pragma once
#include <string>
#include <string_view>
#include <vector>

namespace whorl::io {

struct DiameterList {
  std::string name;               ///< file
  std::string column;             ///< heading of the column that was read; empty: the only one, without a heading
  std::string unit;               ///< as understood: "um"
  std::vector<double> values_m;   ///< [m], as listed
  std::string digest{};           ///< SHA-256 of the file
};

struct DiameterListOptions {
  std::string unit;    ///< when the file does not say it; another than the heading's is refused
  std::string column;  ///< heading, or number from 1, where there are several
  std::string decimal{};  ///< "comma" or "point", when it is known; empty: told from the file
};

/// Reads a list. Lines that start with # are skipped. Columns are parted by semicolons, tabs, commas or blanks. The
/// unit comes from the heading ("Diameter (nm)", "d [um]", "diameter_um") or from `options`. A decimal comma is taken
/// where nothing else can be meant: in files parted by semicolons or tabs, or under a single heading; "1,250" only
/// between semicolons, or when `options` say so. A first line "sep=;" and every kind of line end are understood.
/// Valid: 1 nm to 10 mm, at most a million
/// Error: InputError with file, line, what was found and what is allowed
[[nodiscard]] DiameterList read_diameter_text(std::string_view text, const std::string& name,
                                              const DiameterListOptions& options = {});
[[nodiscard]] DiameterList read_diameter_file(const std::string& path, const DiameterListOptions& options = {});

}  // namespace whorl::io
