// A text for people on its way to the screen: gathered, fitted to the width, then handed on. Tables and JSON for
// programs do not pass here.
#pragma once
#include <cstddef>
#include <ostream>
#include <sstream>
#include <string>
#include <vector>

namespace whorl::console {

/// Columns of the terminal on a file descriptor, 40 to 80; 80 where there is none.
[[nodiscard]] std::size_t terminal_columns(int descriptor);

/// Columns that pages have from now on (80 before the first call).
void use_page_columns(std::size_t columns);
[[nodiscard]] std::size_t page_columns();

/// A message on its way to standard error: one line, so that programs can read it, but folded on a terminal.
[[nodiscard]] std::string message_text(const std::string& text);

class Page {
 public:
  explicit Page(std::ostream& to) : to_(to) {}
  Page(const Page&) = delete;
  Page& operator=(const Page&) = delete;
  ~Page();

  [[nodiscard]] std::ostream& out() { return text_; }

 private:
  std::ostream& to_;
  std::ostringstream text_;
};

/// One line each, for standard error: stated values far from what is in use.
void say_magnitudes(std::ostream& err, const std::vector<std::string>& texts);

}  // namespace whorl::console
