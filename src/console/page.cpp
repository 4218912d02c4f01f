#include "console/page.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>

#include "whorl/io/fit_text.hpp"

namespace whorl::console {
namespace {

constexpr std::size_t kFewest = 40;

std::size_t& columns() {
  static std::size_t value = io::kTextColumns;
  return value;
}

}  // namespace

std::size_t terminal_columns(int descriptor) {
  winsize size{};
  if (::isatty(descriptor) != 1 || ::ioctl(descriptor, TIOCGWINSZ, &size) != 0 || size.ws_col == 0)
    return io::kTextColumns;
  return std::clamp<std::size_t>(size.ws_col, kFewest, io::kTextColumns);
}

void use_page_columns(std::size_t wanted) { columns() = wanted; }
std::size_t page_columns() { return columns(); }

std::string message_text(const std::string& text) {
  return ::isatty(STDERR_FILENO) == 1 ? io::fitted(text, terminal_columns(STDERR_FILENO)) : text;
}

Page::~Page() { to_ << io::fitted(text_.str(), columns()); }

void say_magnitudes(std::ostream& err, const std::vector<std::string>& texts) {
  for (const std::string& text : texts) err << message_text("whorl: unusual: " + text) << '\n';
}

}  // namespace whorl::console
