// The reader of materials files, on top of the built-in library as `materials --add` and cases use it.
#include <cstdint>
#include <string_view>

#include "fuzz/expect.hpp"
#include "whorl/io/materials_file.hpp"
#include "whorl/model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string_view text(reinterpret_cast<const char*>(data), size);
  whorl::model::Library library = whorl::io::built_in_library();
  try {
    whorl::io::add_materials_text(library, text, "fuzz.json");
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
