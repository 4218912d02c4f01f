#include "whorl/study/uncertain_inputs.hpp"

#include <algorithm>
#include <cmath>

#include "whorl/engine/setup.hpp"
#include "whorl/io/keys.hpp"

namespace whorl::study {
namespace {

engine::SpreadKind spread_kind(io::Distribution distribution) {
  switch (distribution) {
    case io::Distribution::normal: return engine::SpreadKind::normal;
    case io::Distribution::uniform: return engine::SpreadKind::uniform;
    case io::Distribution::lognormal: return engine::SpreadKind::lognormal;
  }
  return engine::SpreadKind::normal;
}

}  // namespace

std::vector<engine::UncertainInput> uncertain_inputs(const io::CaseFile& file, const model::CaseInput& input,
                                                     const model::Library& library) {
  std::vector<engine::UncertainInput> stated;
  for (const auto& [path, uncertainty] : file.uncertainties) {
    const io::Key* key = io::find_key(path);
    if (key == nullptr) continue;
    const auto value = key->get(input);
    const auto as_written = key->get(file.input);
    if (!value || !as_written) continue;
    engine::UncertainInput one;
    one.key = path;
    one.kind = engine::kind_of_key(path);
    one.spread = {spread_kind(uncertainty.distribution), *value,
                  io::spread_of_changed(*key, uncertainty.sd, *as_written, *value), key->minimum, key->maximum};
    one.source = "case file";
    one.apply = [key](model::CaseInput& c, double x) { key->set(c, key->whole ? std::round(x) : x); };
    stated.push_back(std::move(one));
  }
  auto usual = engine::uncertain_properties(engine::resolve(input, library));
  auto form = engine::uncertain_model_form(input);
  usual.insert(usual.end(), std::make_move_iterator(form.begin()), std::make_move_iterator(form.end()));
  // Left in with "+- 0", a key is certain: join before what has no width is dropped.
  return engine::join_uncertain(std::move(stated), std::move(usual));
}

}  // namespace whorl::study
