// Names as nobody should give them, but somebody will.
#pragma once
#include <string>
#include <vector>

namespace whorl::document {

inline std::vector<std::string> hostile_names() {
  return {"a\x1b[31mred\x1b[0m\a\b\x7f",
          "turned \u202Eround\u2066 \u2028line\u0085",
          "two\nlines\r\n\n# heading\t|",
          "bytes \xFF\xC3 that are none",
          "<script>alert('x')</script><img src=x onerror=\"alert(1)\">",
          "\\input{/etc/passwd} \\write18{ls} \\def\\x{\\x}\\x",
          "}{ \\end{longtable} $x^2$ %comment ~ # _ ^ & \\\\ \\",
          "[link](http://example.org) ![image](x) `code` **bold** <b> | cell | $math$",
          "\x01plain\x02\\input{x}\x03",
          "--- ?` !` ,, << >> \"quoted\" 'single'",
          "*",
          "[1ex]",
          "\u4E2D\u6587 \U0001F600 \u03B7 \u00B1 \u2264"};
}

}  // namespace whorl::document
