// One knob of the bench turned step by step, away from the setting of the case.
#pragma once
#include <functional>
#include <optional>

#include "whorl/io/keys.hpp"
#include "whorl/model/result.hpp"
#include "whorl/study/loaded_case.hpp"

namespace whorl::study {

/// A key, and how far it may be turned, in the unit that it is shown in.
struct BenchKnob {
  const char* key;
  double step;      ///< with the sign of the way it is turned
  double furthest;  ///< no further than this, and
  double times;     ///< no further than this times the setting of the case; 0: no such limit
};

/// The steps of one knob, whole multiples of its step: 0 is the case.
class KnobSteps {
 public:
  KnobSteps(const LoadedCase& loaded, const BenchKnob& knob);

  [[nodiscard]] int count() const noexcept { return count_; }
  [[nodiscard]] const io::Key& key() const noexcept { return key_; }
  [[nodiscard]] double from() const noexcept { return from_; }
  [[nodiscard]] double value(int k) const { return io::from_display(key_, first_ + step_ * (k - 1)); }

  /// The estimate there, as the case says or, for looking round, without tension; none where it did not converge or the
  /// case allows no such setting.
  [[nodiscard]] std::optional<model::Estimate> estimate(int k, bool in_full) const;

  /// The first step that will do, found by a few looks over the whole reach and halving; 0 where none does.
  [[nodiscard]] int first(const std::function<bool(int)>& will_do) const;

 private:
  const LoadedCase& loaded_;
  const io::Key& key_;
  double step_, from_, first_{};
  int count_{};
};

}  // namespace whorl::study
