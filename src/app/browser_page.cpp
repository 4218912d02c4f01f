#include "app/browser_page.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>
#include <nlohmann/json.hpp>
#include <system_error>

#include "console/page.hpp"
#include "io/files_read.hpp"
#include "table/whole_file.hpp"
#include "whorl/model/error.hpp"

namespace whorl::app {
namespace {

namespace files = std::filesystem;

std::string page_of_this_program() {
  std::error_code error;
  const files::path program = files::read_symlink("/proc/self/exe", error);
  if (error) return {};
  for (const auto& place : places_of_the_page(program.parent_path().string()))
    if (files::is_regular_file(place, error)) return place;
  return {};
}

}  // namespace

std::vector<std::string> places_of_the_page(const std::string& folder_of_program) {
  const files::path folder = folder_of_program;
  return {(folder / "../share/whorl/whorl.html").lexically_normal().string(), (folder / "whorl.html").string(),
          (folder / "../../../page/whorl.html").lexically_normal().string()};
}

int run_browser_page(const BrowserPageArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const std::string from = page_of_this_program();
  if (from.empty())
    throw InputError("", "page", "this program was built without the page",
                     "a build after tools/build-page, which makes whorl.html");
  io::note_file_read(from);
  const table::Existing existing = table::existing_if(arguments.force);
  table::check_target(arguments.output, "--output", existing);
  std::ifstream input(from, std::ios::binary);
  const std::string content(std::istreambuf_iterator<char>(input), {});
  if (!input || content.empty()) throw InputError(from, "", "cannot be read", "the page as it was installed");
  table::write_whole_file(arguments.output, "--output", content, existing);
  if (arguments.json) {
    streams.out << nlohmann::ordered_json{{"page", arguments.output}, {"bytes", content.size()}}.dump(2) << '\n';
  } else {
    console::Page page(streams.out);
    page.out() << "Wrote " << arguments.output << " (" << (content.size() + 500000) / 1000000
               << " MB): open it in a browser; it needs no network and nothing leaves it.\n";
  }
  return console::kDone;
}

}  // namespace whorl::app
