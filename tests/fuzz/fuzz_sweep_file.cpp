// What is on the disk when a sweep is resumed or shares are merged: the input takes the place of the table, of its metadata, or
// of both (first byte). Whatever it is: no crash, a refusal leaves the file alone, and a file that is accepted ends as the right one.
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>

#include "app/commands.hpp"
#include "app/sweep_model.hpp"
#include "table/whole_file.hpp"
#include "fuzz/expect.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

namespace {

using whorl::app::SweepArguments;

std::string read(const std::string& path) {
  std::ifstream input(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(input), std::istreambuf_iterator<char>()};
}

void write(const std::string& path, const std::string& text) { std::ofstream(path, std::ios::binary | std::ios::trunc) << text; }

struct Place {
  std::string folder;
  std::string table;
  std::string about;
  std::string whole;      // table of the undisturbed run
  std::string metadata;   // and its metadata
  ~Place() {
    for (const auto& name : {table, about, table + ".out", table + ".out-metadata.json"}) ::unlink(name.c_str());
    ::rmdir(folder.c_str());
  }
};

int sweep(const Place& place, bool resume) {
  SweepArguments a;
  a.spec.vary = {"rotation_speed=4000 rpm, 9000 rpm", "gas_overpressure=0 MPa, 0.1 MPa, 0.6 MPa"};
  a.output = place.table;
  a.quiet = true;
  a.resume = resume;
  a.threads = 1;
  std::ostringstream out;
  std::ostringstream err;
  whorl::table::begin_command();
  return whorl::app::sweep(a, sweep_test::make_case(), "0.test", sweep_test::Model{}, out, err);
}

Place make_place() {
  Place place;
  std::string name = "whorl-fuzz-XXXXXX";
  const char* base = std::getenv("TMPDIR");
  name = std::string(base != nullptr ? base : "/tmp") + '/' + name;
  WHORL_EXPECT(::mkdtemp(name.data()) != nullptr);
  place.folder = name;
  place.table = name + "/a.csv";
  place.about = whorl::io::csvw_file(place.table);
  WHORL_EXPECT(sweep(place, false) == 0);
  place.whole = read(place.table);
  place.metadata = read(place.about);
  return place;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Place place = make_place();
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  const unsigned kind = data[0] % 4U;
  std::string table = place.whole;
  std::string about = place.metadata;
  if (kind == 0) {
    table = text;
  } else if (kind == 1) {
    about = text;
  } else if (kind == 2) {  // the first rows of the right file, then the input
    const auto cut = table.find('\n', table.size() / 2);
    table = table.substr(0, cut + 1) + text;
  } else {
    const auto zero = text.find('\0');
    about = text.substr(0, zero);
    table = zero == std::string::npos ? std::string() : text.substr(zero + 1);
  }
  write(place.table, table);
  write(place.about, about);
  try {
    (void)sweep(place, true);
    // Whole rows of others would stay; cells behind the status are not recomputed, so only the shape is certain.
    const std::string after = read(place.table);
    WHORL_EXPECT(after.size() > 0 && after.back() == '\n');
    WHORL_EXPECT(after.compare(0, after.find('\n'), place.whole, 0, place.whole.find('\n')) == 0);
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
    WHORL_EXPECT(read(place.table) == table);
    WHORL_EXPECT(read(place.about) == about);
  }
  write(place.table, table);
  write(place.about, about);
  const std::string joined = place.table + ".out";
  ::unlink(joined.c_str());
  ::unlink(whorl::io::csvw_file(joined).c_str());
  try {
    std::ostringstream out;
    std::ostringstream err;
    (void)whorl::app::run_merge({{place.table}, joined, false, false, true}, {out, err});
    WHORL_EXPECT(read(joined) == table);  // one share is the whole
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
    WHORL_EXPECT(::access(joined.c_str(), F_OK) != 0);
  }
  return 0;
}
