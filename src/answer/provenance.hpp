// Where an output comes from: program and version, the files it rests on with their digests, the options that decide
// it. Every output says so through this file, so that all say it alike.
#pragma once
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "figures/figure_kinds.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::answer {

/// "whorl 0.1.0"
[[nodiscard]] std::string program_and_version();
/// "0.1.0"
[[nodiscard]] std::string program_version();

/// Options of this process's command line that decide what comes out, as they were typed; not those that only say where
/// it goes, in which form, or how fast. Set once, by main.cpp.
void use_options(std::vector<std::string> options);

/// A file that an output rests on.
struct Basis {
  std::string kind;    ///< "case", "trials", "sweep"
  std::string name;    ///< of the file, without folder
  std::string sha256;  ///< of a case: of its content (spacing and order of keys do not count), property files and
                       ///< calibration; else of the bytes
  std::string model;   ///< of a case: "tension tier, radial drying"
};
[[nodiscard]] Basis basis_of(const study::LoadedCase& loaded);

/// A file by its bytes, which are read again; without digest when it is a pipe, which cannot be.
[[nodiscard]] Basis basis_of_file(const std::string& kind, const std::string& path);
/// The property library built into this program.
[[nodiscard]] Basis built_in_basis();

/// First digits of a digest, as `check`, recipes and the lines below show it.
[[nodiscard]] std::string short_digest(std::string_view sha256);

/// "whorl 0.1.0, case pcl.json 0123456789abcdef, tension tier, radial drying, options --uncertainty 64"
[[nodiscard]] std::string provenance_text(const std::vector<Basis>& bases);
/// The same as the last line of a page of text, after an empty one, folded.
[[nodiscard]] std::string provenance_line(const std::vector<Basis>& bases);

/// Sets "program", "version", "based_on" (kind, name, sha256 of each file) and "options".
void put_provenance(nlohmann::ordered_json& json, const std::vector<Basis>& bases);

/// Metadata of a table made from one case: who, from what, with which options. Columns and further facts are the
/// caller's; `identity` is set by finish_metadata().
[[nodiscard]] io::TableMetadata table_metadata(const study::LoadedCase& loaded, const std::string& title,
                                               const std::string& path);
/// The document. Its identity is the digest of title, version, case and facts.
[[nodiscard]] std::string finish_metadata(io::TableMetadata table);

/// What figures carry inside: <metadata> of SVG, the information of PDF and PNG.
[[nodiscard]] figures::FigureOrigin figure_origin(const std::vector<Basis>& bases);

}  // namespace whorl::answer
