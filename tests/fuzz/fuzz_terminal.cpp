// What whole commands print. The input becomes a case, a purpose, a list of diameters, a table, a materials file, a
// file name, a setting, a heading on the command line or the metadata of a share; the command runs behind the door to
// the terminal, and nothing that comes out may steer one, on either stream, whatever the exit code.
#include <stdlib.h>
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "app/commands.hpp"
#include "console/door.hpp"
#include "fuzz/expect.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/study/loaded_case.hpp"

namespace {

using namespace whorl::app;

constexpr const char* kCase = R"({
  "whorl_case": 1,
  "solution": {"polymer": "PCL", "solvent": "chloroform", "molar_mass": "80 kg/mol", "concentration": "18 % w/v of solvent"},
  "vessel": {"bore_diameter": "44 mm", "height": "24 mm", "wall_thickness": "2 mm", "orifice_diameter": "0.4 mm", "orifice_count": 18},
  "operation": {"rotation_speed": "300 rpm", "gas_overpressure": "0 MPa", "charge_volume": "5 mL", "collection_distance": "120 mm"},
  "model": {"tier": "inertial", "drying": "lumped"}})";

std::string make_folder() {
  const char* base = std::getenv("TMPDIR");
  std::string name = std::string(base != nullptr ? base : "/tmp") + "/whorl-fuzz-XXXXXX";
  WHORL_EXPECT(::mkdtemp(name.data()) != nullptr);
  return name;
}

void write(const std::string& path, const std::string& text) {
  std::ofstream(path, std::ios::binary | std::ios::trunc) << text;
}

// Not by the function under test: strict UTF-8 by the JSON library, then the byte sequences that must not be there.
void check_shown(const std::string& text) {
  try {
    (void)nlohmann::json(text).dump();
  } catch (const nlohmann::json::exception&) {
    WHORL_EXPECT(!"text that is UTF-8");
  }
  for (std::size_t i = 0; i < text.size(); ++i) {
    const auto byte = [&](std::size_t k) { return i + k < text.size() ? static_cast<unsigned char>(text[i + k]) : 0U; };
    WHORL_EXPECT(byte(0) >= 0x20 || byte(0) == '\n' || byte(0) == '\t');
    WHORL_EXPECT(byte(0) != 0x7F);
    WHORL_EXPECT(!(byte(0) == 0xC2 && byte(1) < 0xA0));
    WHORL_EXPECT(!(byte(0) == 0xD8 && byte(1) == 0x9C));
    WHORL_EXPECT(!(byte(0) == 0xE2 && byte(1) == 0x80 &&
                   (byte(2) == 0x8E || byte(2) == 0x8F || (byte(2) >= 0xA8 && byte(2) <= 0xAE))));
    WHORL_EXPECT(!(byte(0) == 0xE2 && byte(1) == 0x81 && byte(2) >= 0xA6 && byte(2) <= 0xA9));
  }
}

void run(const std::function<int(const whorl::console::Streams&)>& command) {
  std::ostringstream out;
  std::ostringstream err;
  const int exit = whorl::console::run_behind_door(command, out, err);
  WHORL_EXPECT(exit == whorl::console::kDone || exit == whorl::console::kNotMet || exit == whorl::console::kBadInput);
  check_shown(out.str());
  check_shown(err.str());
  // At the beginning of a line: a message may repeat an input that says so.
  WHORL_EXPECT(("\n" + err.str()).find("\nwhorl: internal error") == std::string::npos);
  if (exit == whorl::console::kBadInput && !err.str().empty())
    WHORL_EXPECT(err.str().find('\n') + 1 == err.str().size());  // one message, one line
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const std::string folder = make_folder();
  if (size == 0) return 0;
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  const bool json = (data[0] & 0x80U) != 0;
  const std::string file = folder + "/in.json";
  whorl::study::CaseOverlay overlay;
  const auto check = [&](const std::string& path) {
    CheckOptions options{{path}, json, false, false};
    options.overlay = overlay;
    run([&](const whorl::console::Streams& s) { return run_check(options, s); });
  };
  const auto estimate = [&] {
    EstimateArguments arguments;
    arguments.case_file = file;
    arguments.json = json;
    arguments.overlay = overlay;
    run([&](const whorl::console::Streams& s) { return run_estimate(arguments, s); });
  };
  switch (data[0] % 9U) {
    case 0:
      write(file, text);
      check(file);
      break;
    case 1: {
      auto c = nlohmann::ordered_json::parse(kCase);
      c["purpose"] = text;
      write(file, c.dump(-1, ' ', false, nlohmann::ordered_json::error_handler_t::replace));
      estimate();
      break;
    }
    case 2: {
      write(folder + "/list.csv", text);
      DiametersArguments arguments;
      arguments.lists = {folder + "/list.csv"};
      arguments.unit = "um";
      arguments.json = json;
      run([&](const whorl::console::Streams& s) { return run_diameters(arguments, s); });
      break;
    }
    case 3: {
      write(folder + "/t.csv", text);
      FigureArguments arguments;
      arguments.inputs = {folder + "/t.csv"};
      arguments.output = folder + "/a.svg";
      arguments.force = true;
      arguments.json = json;
      run([&](const whorl::console::Streams& s) { return run_figure(arguments, s); });
      break;
    }
    case 4: {
      write(folder + "/m.json", text);
      MaterialsOptions options;
      options.add = {folder + "/m.json"};
      options.json = json;
      run([&](const whorl::console::Streams& s) { return run_materials(options, s); });
      break;
    }
    case 5: {
      std::string name = text.substr(0, 100);
      for (char& c : name)
        if (c == '/' || c == '\0') c = '_';
      name = folder + "/n" + name;
      write(name, kCase);
      check(name);
      ::unlink(name.c_str());
      check(name);
      break;
    }
    case 6: {
      write(file, kCase);
      overlay.settings = {text};
      estimate();
      check(file);
      break;
    }
    case 7: {
      write(folder + "/list.csv", "Diameter (um);x\n5;1\n6;2\n");
      DiametersArguments arguments;
      arguments.lists = {folder + "/list.csv"};
      (json ? arguments.unit : arguments.column) = text;
      run([&](const whorl::console::Streams& s) { return run_diameters(arguments, s); });
      MaterialsOptions options;
      options.names = {text};
      run([&](const whorl::console::Streams& s) { return run_materials(options, s); });
      break;
    }
    default: {
      write(folder + "/share.csv", "point,status\n1,done\n");
      write(whorl::io::csvw_file(folder + "/share.csv"), text);
      run([&](const whorl::console::Streams& s) {
        return run_merge({{folder + "/share.csv"}, folder + "/joined.csv", true, json, false}, s);
      });
    }
  }
  return 0;
}
