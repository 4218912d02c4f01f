#pragma once
// One line on a terminal, rewritten in place at most four times a second; for commands that compute for a while.
#include <chrono>
#include <ostream>
#include <string>

#include "console/door.hpp"
#include "console/page.hpp"

namespace whorl::console {

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
    if (now - shown_ < 0.9 * interval()) return;
    shown_ = now;
    if (kind().lines) {
      *out_ << text() << std::endl;
      return;
    }
    write_own(*out_, kBegin);
    *out_ << std::string(text()).substr(0, page_columns() - 1)
          << std::flush;  // a line that wraps could not be wiped away
    drawn_ = true;
  }

  void clear() {
    if (drawn_) {
      write_own(*out_, kBegin);
      out_->flush();
    }
    drawn_ = false;
  }

  using Seconds = std::chrono::duration<double>;

  // Where there is no terminal: a line of its own every two seconds instead, or as often as is wanted; 0: at every
  // update.
  static void use_lines(bool wanted, Seconds every = Seconds(2.0)) { kind() = {wanted, every}; }
  static Seconds interval() { return kind().lines ? kind().every : Seconds(0.25); }
  // What is over sooner says nothing.
  static Seconds first() { return kind().lines ? kind().every : Seconds(0.5); }

 private:
  struct Kind {
    bool lines{};
    Seconds every{2.0};
  };
  static Kind& kind() {
    static Kind value;
    return value;
  }
  static constexpr const char* kBegin = "\r\x1b[K";  ///< back to the start of an empty line

  std::ostream* out_;
  Clock::time_point shown_{Clock::now()};
  bool drawn_{};
};

}  // namespace whorl::console
