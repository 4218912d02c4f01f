// Result files that `figure` draws: estimates as JSON, sweeps and profiles as CSV. The first byte chooses the kind of figure. Either
// InputError, or a drawing without a number that is none and without markup from the file.
#include <unistd.h>

#include <cstdint>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <sstream>
#include <string>

#include "app/commands.hpp"
#include "fuzz/expect.hpp"
#include "whorl/model/error.hpp"

namespace {

struct Place {
  std::string folder;
  Place() {
    const char* base = std::getenv("TMPDIR");
    folder = std::string(base != nullptr ? base : "/tmp") + "/whorl-fuzz-XXXXXX";
    WHORL_EXPECT(::mkdtemp(folder.data()) != nullptr);
  }
  Place(const Place&) = delete;
  Place& operator=(const Place&) = delete;
  ~Place() {
    for (const char* name : {"/in", "/a.svg", "/a.txt"}) ::unlink((folder + name).c_str());
    ::rmdir(folder.c_str());
  }
};

bool has(const std::string& text, const char* part) { return text.find(part) != std::string::npos; }

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
  static const Place place;
  if (size == 0) return 0;
  constexpr const char* kKinds[] = {"", "path", "profile", "map", "trend", "distribution", "budget", "split"};
  const std::string text(reinterpret_cast<const char*>(data) + 1, size - 1);
  // Cases have a target of their own; here the model would run.
  if (has(text, "whorl_case")) return 0;
  const std::string in = place.folder + "/in";
  std::ofstream(in, std::ios::binary | std::ios::trunc) << text;
  whorl::app::FigureArguments arguments;
  arguments.kind = kKinds[data[0] % 8U];
  arguments.inputs = {in};
  if (arguments.kind == "split") arguments.inputs.push_back(in);
  arguments.output = place.folder + "/a.svg";
  arguments.caption = true;
  arguments.force = true;
  std::ostringstream out;
  std::ostringstream err;
  try {
    ::unlink(arguments.output.c_str());
    WHORL_EXPECT(whorl::app::run_figure(arguments, {out, err}) == 0);
    std::ifstream drawing(arguments.output, std::ios::binary);
    const std::string svg{std::istreambuf_iterator<char>(drawing), std::istreambuf_iterator<char>()};
    WHORL_EXPECT(has(svg, "<svg") && has(svg, "</svg>"));
    for (const char* bad : {"=\"nan", "=\"-nan", "=\"inf", "=\"-inf", " nan", " inf", ",nan", ",inf", "<script", "<img", "onerror"}) {
      // texts of the file may hold any word, as text, and a column may be called inf...
      const char* word = *bad == '=' ? bad + 2 : bad + 1;
      if (*bad == '<' || !has(text, word)) WHORL_EXPECT(!has(svg, bad));
    }
  } catch (const whorl::InputError& error) {
    WHORL_EXPECT(!error.found().empty());
    WHORL_EXPECT(::access(arguments.output.c_str(), F_OK) != 0);
  }
  return 0;
}
