#include "whorl/model/result.hpp"

namespace whorl::model {

const char* to_string(FibreClass value) noexcept {
  switch (value) {
    case FibreClass::no_jet: return "no-jet";
    case FibreClass::dripping: return "dripping";
    case FibreClass::stalled: return "stalled";
    case FibreClass::drops: return "drops";
    case FibreClass::beaded: return "beaded";
    case FibreClass::wet_landing: return "wet-landing";
    case FibreClass::continuous: return "continuous";
  }
  return "?";
}

const char* to_string(Status value) noexcept { return value == Status::done ? "done" : "not-converged"; }

const char* to_string(Landing value) noexcept {
  switch (value) {
    case Landing::dry: return "dry";
    case Landing::firm: return "firm";
    case Landing::tacky: return "tacky";
    case Landing::wet: return "wet";
    case Landing::none: return "none";
  }
  return "?";
}

}  // namespace whorl::model
