#include "model/rheology.hpp"

#include <algorithm>

namespace whorl::model {

double pull_of(const PolymerLaw& law, double along, double across) {
  if (law.model != PolymerModel::fene_p) return std::log(along);
  const double room = law.extensibility - 2.0 * across;
  const double c = std::min(along, 0.999 * room);
  return std::log(c * (law.extensibility - 3.0) / (room - c));
}

}  // namespace whorl::model
