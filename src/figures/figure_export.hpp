// Figures as files: SVG as it is, PDF and PNG through librsvg and cairo where the program was built with them and
// the machine has them.
#pragma once
#include <string>

#include "figures/figure_kinds.hpp"

namespace whorl::figures {

enum class FigureFile { svg, pdf, png };

/// Type by the ending of a file name.
/// Error: InputError for another ending, and for PDF or PNG without librsvg
[[nodiscard]] FigureFile figure_file_type(const std::string& path);

/// Whether PDF and PNG can be written; librsvg is loaded for it.
[[nodiscard]] bool can_export();
/// Why they cannot; empty: they can. `library`: file of librsvg, the one of this machine where none is named.
[[nodiscard]] std::string no_export(const char* library = nullptr);

/// The bytes of the file, with its origin inside. `dpi`: dots per inch of a PNG.
/// Error: InputError for dots out of 50 to 2400 or a picture of more than 400 million dots; std::runtime_error when
/// librsvg refuses
[[nodiscard]] std::string exported(const Figure& figure, FigureFile type, double dpi, const FigureOrigin& origin);

}  // namespace whorl::figures
