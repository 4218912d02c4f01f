#include "whorl/model/materials.hpp"

#include <algorithm>

namespace whorl::model {
namespace {

template <class Range>
auto find_last(const Range& range, const std::string& id) {
  const auto it = std::find_if(range.rbegin(), range.rend(), [&](const auto& item) { return item.id == id; });
  return it == range.rend() ? nullptr : &*it;
}

}  // namespace

const Polymer* Library::polymer(const std::string& id) const { return find_last(polymers, id); }

const Solvent* Library::solvent(const std::string& id) const { return find_last(solvents, id); }

const Pair* Library::pair(const std::string& polymer_id, const std::string& solvent_id) const {
  const auto it = std::find_if(pairs.rbegin(), pairs.rend(), [&](const Pair& item) {
    return item.polymer == polymer_id && item.solvent == solvent_id;
  });
  return it == pairs.rend() ? nullptr : &*it;
}

}  // namespace whorl::model
