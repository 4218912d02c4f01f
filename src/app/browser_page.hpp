// The page with the whole model inside, which an installed program brings along: whorl page.
#pragma once
#include <string>
#include <vector>

#include "app/commands.hpp"

namespace whorl::app {

struct BrowserPageArguments {
  std::string output{"whorl.html"};
  bool force{};  ///< replace an existing file
  bool json{};
};

/// Where the page of this program may stand, seen from the folder of its binary: installed, beside it, in a build tree.
[[nodiscard]] std::vector<std::string> places_of_the_page(const std::string& folder_of_program);

/// Writes a copy of the page. Error: InputError when this program has none, or when `output` may not be written.
int run_browser_page(const BrowserPageArguments& arguments, const console::Streams& streams);

}  // namespace whorl::app
