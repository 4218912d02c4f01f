#include "run/progress.hpp"

#include <unistd.h>

#include <atomic>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <utility>

#include "whorl/io/units.hpp"
#include "whorl/model/error.hpp"

namespace whorl::run {
namespace {

std::atomic<bool>& asked_for() {
  static std::atomic<bool> value{false};
  return value;
}

}  // namespace

void use_progress(bool asked) {
  asked_for() = asked;
  console::StatusLine::use_lines(asked && ::isatty(STDERR_FILENO) != 1);
}

void use_progress_every(double seconds) {
  constexpr double kDay = 86400.0;
  if (!(seconds >= 0.0 && seconds <= kDay))
    throw InputError("", "--progress-every", io::number_text(seconds, 6), "0 to 86400 (seconds)");
  asked_for() = true;
  console::StatusLine::use_lines(true, std::chrono::duration<double>(seconds));
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
  text += (about ? " of about " : " of ") + std::to_string(total) + ' ' + what + " (" +
          std::to_string(static_cast<int>(std::floor(100.0 * share))) + " %)";
  if (share < 0.01 || done == 0) return text;
  return text + ", " + (about ? "about " : "") + duration_text(seconds * (1.0 - share) / share) + " left";
}

Progress::Progress(std::ostream* out, Expected expected, std::string what)
    : what_(std::move(what)), about_(expected == Expected::about), line_(out), run_count_([this] {
        if (console::StatusLine::interval().count() > 0.0) return;
        const std::lock_guard lock(mutex_);
        if (!over_) say();
      }) {
  if (out == nullptr) over_ = true;
  else if (console::StatusLine::interval().count() > 0.0) thread_ = std::thread([this] { watch(); });
}

void Progress::stop() {
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  ended_.notify_all();
  if (thread_.joinable()) thread_.join();
  line_.clear();
}

void Progress::watch() {
  std::unique_lock lock(mutex_);
  console::StatusLine::Seconds wait = console::StatusLine::first();
  while (!ended_.wait_for(lock, wait, [this] { return over_; })) {
    say();
    wait = console::StatusLine::interval();
  }
}

// With the lock held.
void Progress::say() {
  line_.update([this] {
    const double seconds = std::chrono::duration<double>(console::StatusLine::Clock::now() - start_).count();
    return progress_text(run_count_.done(), run_count_.expected(), about_, seconds, what_);
  });
}

}  // namespace whorl::run
