#include "app/progress.hpp"

#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <utility>

namespace whorl::app {
namespace {

std::atomic<bool>& asked_for() {
  static std::atomic<bool> value{false};
  return value;
}

}  // namespace

void use_progress(bool asked) {
  asked_for() = asked;
  StatusLine::use_lines(asked && ::isatty(STDERR_FILENO) != 1);
}

std::ostream* progress_stream(std::ostream& err, bool quiet) {
  return !quiet && (asked_for() || ::isatty(STDERR_FILENO) == 1) ? &err : nullptr;
}

std::string duration_text(double seconds) {
  if (!(seconds < 8.64e8)) return "years";
  if (seconds < 0.5) return "under a second";
  const auto whole = static_cast<long long>(std::ceil(seconds - 1e-6));
  if (whole < 60) return std::to_string(whole) + " s";
  if (whole < 3600) return std::to_string(whole / 60) + " min " + std::to_string(whole % 60) + " s";
  if (whole < 172800) return std::to_string(whole / 3600) + " h " + std::to_string(whole % 3600 / 60) + " min";
  return std::to_string(whole / 86400) + " days";
}

std::string progress_text(std::size_t done, std::size_t total, bool about, double seconds, const std::string& what) {
  std::string text = std::to_string(done);
  if (total == 0 || (about && done >= total)) return text + ' ' + what + ", " + duration_text(seconds) + " so far";
  const double share = static_cast<double>(done) / static_cast<double>(total);
  text += (about ? " of about " : " of ") + std::to_string(total) + ' ' + what + " (" + std::to_string(static_cast<int>(std::floor(100.0 * share))) + " %)";
  if (share < 0.01 || done == 0) return text;
  return text + ", " + (about ? "about " : "") + duration_text(seconds * (1.0 - share) / share) + " left";
}

Waiting::Waiting(std::ostream* out, std::string what) : line_(out), what_(std::move(what)) {
  if (out == nullptr) return;
  thread_ = std::thread([this] {
    const auto start = StatusLine::Clock::now();
    std::unique_lock lock(mutex_);
    auto next = std::chrono::milliseconds(2000);
    while (!ended_.wait_for(lock, next, [this] { return over_; })) {
      next = std::chrono::milliseconds(1000);
      const double seconds = std::chrono::duration<double>(StatusLine::Clock::now() - start).count();
      line_.update([&] { return what_ + ": " + std::to_string(static_cast<long long>(seconds)) + " s so far"; });
    }
  });
}

Waiting::~Waiting() {
  if (!thread_.joinable()) return;
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  ended_.notify_all();
  thread_.join();
  line_.clear();
}

}  // namespace whorl::app
