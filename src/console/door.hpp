// The one door to the terminal: whatever a command prints, on standard output and error alike, passes printable() here.
#pragma once
#include <functional>
#include <ostream>
#include <streambuf>
#include <string>
#include <string_view>

#include "console/streams.hpp"

namespace whorl::console {

/// Hands on to another buffer what may be shown. Characters may come in pieces.
class PrintableBuffer final : public std::streambuf {
 public:
  explicit PrintableBuffer(std::ostream& to) : to_(to) {}
  PrintableBuffer(const PrintableBuffer&) = delete;
  PrintableBuffer& operator=(const PrintableBuffer&) = delete;
  ~PrintableBuffer() override;

  /// Control sequences of the program's own (the status line).
  void own(std::string_view sequence);

 protected:
  std::streamsize xsputn(const char* text, std::streamsize size) override;
  int_type overflow(int_type c) override;
  int sync() override;

 private:
  std::ostream& to_;
  std::string rest_;  ///< first bytes of a character
};

/// Writes a control sequence of the program's own past the door, where there is one.
void write_own(std::ostream& out, std::string_view sequence);

/// Runs a command with both streams behind the door. What it throws becomes a message and an exit code; a standard
/// output that cannot be written to (full disk) is kNotMet.
[[nodiscard]] int run_behind_door(const std::function<int(const Streams&)>& command, std::ostream& out,
                                  std::ostream& err);

}  // namespace whorl::console
