// The vessel cut open along its axis, to scale: the layer of liquid, the orifices, the layer at which gas goes through.
#pragma once
#include "figures/figure_kinds.hpp"

namespace whorl::figures {

struct SectionFigure {
  double bore_mm{}, height_mm{}, wall_mm{};    ///< bore: diameter
  double orifice_mm{}, orifice_height_mm{};    ///< height above the floor
  double opening_mm{};                         ///< of the lid; 0: closed
  double layer_mm{};                           ///< of liquid over the orifices, at the start
  double gas_layer_mm{};                       ///< at which gas goes through; 0: it does not
  double gas_after_s{};                        ///< when
  std::string about;
};
/// Layers too thin to be seen are drawn thicker, and the caption says so.
/// Error: std::invalid_argument for a vessel without bore or height
[[nodiscard]] Figure draw_section(const SectionFigure& data, const FigureFormat& format);

}  // namespace whorl::figures
