#include "console/door.hpp"

#include <exception>

#include "console/page.hpp"
#include "table/whole_file.hpp"
#include "whorl/model/error.hpp"
#include "whorl/model/printable.hpp"

namespace whorl::console {

PrintableBuffer::~PrintableBuffer() {
  try {
    if (!rest_.empty()) to_ << printable(rest_) << std::flush;
  } catch (...) {  // a stream that throws: there is nowhere left to say so
  }
}

void PrintableBuffer::own(std::string_view sequence) { to_ << sequence; }

std::streamsize PrintableBuffer::xsputn(const char* text, std::streamsize size) {
  const std::string_view piece(text, static_cast<std::size_t>(size));
  if (rest_.empty()) {
    const std::size_t late = unfinished_bytes(piece);
    to_ << printable(piece.substr(0, piece.size() - late));
    rest_.assign(piece.substr(piece.size() - late));
  } else {
    rest_.append(piece);
    const std::string late = rest_.substr(rest_.size() - unfinished_bytes(rest_));
    to_ << printable(std::string_view(rest_).substr(0, rest_.size() - late.size()));
    rest_ = late;
  }
  return to_ ? size : 0;
}

PrintableBuffer::int_type PrintableBuffer::overflow(int_type c) {
  if (traits_type::eq_int_type(c, traits_type::eof())) return traits_type::not_eof(c);
  const char one = traits_type::to_char_type(c);
  return xsputn(&one, 1) == 1 ? c : traits_type::eof();
}

int PrintableBuffer::sync() {
  to_.flush();
  return to_ ? 0 : -1;
}

void write_own(std::ostream& out, std::string_view sequence) {
  if (auto* door = dynamic_cast<PrintableBuffer*>(out.rdbuf()))
    door->own(sequence);
  else
    out << sequence;
}

int run_behind_door(const std::function<int(const Streams&)>& command, std::ostream& out, std::ostream& err) {
  PrintableBuffer out_door(out);
  PrintableBuffer err_door(err);
  std::ostream shown(&out_door);
  std::ostream said(&err_door);
  int exit = kNotMet;
  try {
    exit = command(Streams{shown, said});
    shown.flush();
    if (!shown || !out) {
      said << "whorl: cannot write the output (disk full?)" << std::endl;
      exit = kNotMet;
    }
  } catch (const InputError& error) {
    said << message_text(std::string("whorl: ") + error.what()) << '\n';
    exit = kBadInput;
  } catch (const table::OutputError& error) {
    said << message_text(std::string("whorl: ") + error.what()) << '\n';
    exit = kNotMet;
  } catch (const std::exception& error) {
    said << message_text(std::string("whorl: internal error: ") + error.what()) << '\n';
    exit = kNotMet;
  }
  said.flush();
  return exit;
}

}  // namespace whorl::console
