// Case files: JSON with quantities as texts with units. See docs/formats/case.md.
#pragma once
#include <map>
#include <string>
#include <string_view>
#include <vector>

#include "whorl/io/units.hpp"
#include "whorl/model/case.hpp"

namespace whorl::io {

/// A case as read.
struct CaseFile {
  std::string name;                                  ///< as given, for messages
  model::CaseInput input;
  bool concentration_basis_defaulted{};              ///< bare "% w/v": taken as of solvent
  std::vector<std::string> notes;                    ///< defaults taken that matter, and keys that have no effect
  std::vector<std::string> unusual;  ///< of the notes: values far from what is in use, which may be slips
  std::map<std::string, Uncertainty> uncertainties;  ///< key path -> what stood behind "±"
  std::string sweep_json;  ///< the "sweep" block as JSON text in the order of the file; empty: none
  std::string window_json;                           ///< the same of the "window" block
  std::vector<std::string> material_files;           ///< paths, relative ones already joined to the folder of the case
  std::string canonical_text;    ///< canonical_text(input), uncertainties and digests of material files
  std::string material_digests;  ///< one line for each material file: other material data make another case
  bool tier_stated{};                                ///< by the file or laid over it, not by default
  std::string hash;                                  ///< SHA-256 of canonical_text, 64 hexadecimal digits
};

/// Reads and validates a case file.
/// Error: InputError with file, key, what was found and what is allowed.
[[nodiscard]] CaseFile read_case_file(const std::string& path);

/// The same from memory; `folder` is where material files are looked for.
[[nodiscard]] CaseFile read_case_text(std::string_view text, const std::string& name, const std::string& folder = "");

/// Checks that concern several keys at once, and all limits. Called by the readers; a sweep calls it for every point.
/// Error: InputError.
void validate(const model::CaseInput& input, const std::string& file);

/// Lays "KEY=VALUE" texts over a case: any key, by path or by its last part where that is unique, with the value as the
/// file would have it. A value may state a spread (else it keeps the relative size of that of the case), a concentration
/// its basis (else it keeps that of the case). What changes goes into the notes; the digest is that of a file that says
/// the same.
/// Error: InputError naming the option; `file` is left half changed then.
void apply_settings(CaseFile& file, const std::vector<std::string>& settings, const std::string& option);

/// Every value that takes part in a computation, one "path = value" line per key, SI, 17 digits. Two cases with the
/// same text are the same case, however their files are written. The purpose line is left out.
[[nodiscard]] std::string canonical_text(const model::CaseInput& input);

}  // namespace whorl::io
