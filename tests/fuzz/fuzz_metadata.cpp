// The metadata file beside a table, as --resume and merge read it, and the rewritten one of merge.
#include <cstdint>
#include <string>

#include "fuzz/expect.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  const std::string text(reinterpret_cast<const char*>(data), size);
  bool readable = false;
  try {
    (void)whorl::io::read_csvw_identity(text, "fuzz.csv-metadata.json");
    readable = true;
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  try {
    const std::string whole = whorl::io::csvw_of_whole(text, "fuzz.csv-metadata.json", "whole.csv", {"rows", "1 to 2"});
    if (!readable) return 0;
    // Still a metadata document, of the same sweep.
    const auto before = whorl::io::read_csvw_identity(text, "a");
    const auto after = whorl::io::read_csvw_identity(whole, "b");
    WHORL_EXPECT(after.identity == before.identity);
    WHORL_EXPECT(after.facts.size() == before.facts.size());
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
  }
  return 0;
}
