// The message with which input is refused.
#pragma once
#include <string>

#include "whorl/model/error.hpp"

namespace testing {

// What `action()` says of the input that it refuses; "accepted" when it takes it.
template <class Action>
std::string refusal(const Action& action) {
  try {
    static_cast<void>(action());
  } catch (const whorl::InputError& error) {
    return error.what();
  }
  return "accepted";
}

}  // namespace testing
