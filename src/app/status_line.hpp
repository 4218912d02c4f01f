#pragma once
// One line on a terminal, rewritten in place at most four times a second; for commands that compute for a while.
#include <chrono>
#include <ostream>
#include <string>

#include "app/door.hpp"

namespace whorl::app {

class StatusLine {
 public:
  using Clock = std::chrono::steady_clock;

  // Draws nothing when `out` is null (no terminal, or --quiet).
  explicit StatusLine(std::ostream* out) : out_(out) {}

  // Draws what `text()` gives, when it is time to; `text` is not called otherwise. Not for two threads at once.
  template <class Text>
  void update(const Text& text) {
    if (out_ == nullptr) return;
    const auto now = Clock::now();
    if (now - shown_ < std::chrono::milliseconds(lines() ? 2000 : 250)) return;
    shown_ = now;
    if (lines()) {
      *out_ << text() << std::endl;
      return;
    }
    write_own(*out_, kBegin);
    *out_ << text() << std::flush;
    drawn_ = true;
  }

  void clear() {
    if (drawn_) {
      write_own(*out_, kBegin);
      out_->flush();
    }
    drawn_ = false;
  }

  // Where there is no terminal: a line of its own every two seconds instead.
  static void use_lines(bool wanted) { lines() = wanted; }

 private:
  static bool& lines() {
    static bool value = false;
    return value;
  }
  static constexpr const char* kBegin = "\r\x1b[K";  ///< back to the start of an empty line

  std::ostream* out_;
  Clock::time_point shown_{Clock::now()};
  bool drawn_{};
};

}  // namespace whorl::app
