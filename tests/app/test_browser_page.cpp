// whorl page: the page that an installed program brings along, and the rule for outputs.
#include <sys/stat.h>

#include <filesystem>

#include "app/browser_page.hpp"
#include "app/process.hpp"
#include "catch.hpp"

namespace {

using process::finish;
using process::Folder;
using process::read;
using process::start;
using process::write;

int run(const Folder& folder, const std::vector<std::string>& words) {
  return finish(start(words, folder / "out", folder / "err"));
}

}  // namespace

TEST_CASE("whorl page writes the page of its installation, byte for byte, and over nothing unasked") {
  const Folder folder;
  for (const char* name : {"bin", "share", "share/whorl"}) std::filesystem::create_directory(folder / name);
  const std::string program = folder / "bin/whorl";
  std::filesystem::copy_file(WHORL_BINARY, program);
  const std::string target = folder / "mine.html";

  CHECK(run(folder, {program, "page", "-o", target}) == 2);
  CHECK(read(folder / "err").find("tools/build-page") != std::string::npos);
  CHECK_FALSE(process::present(target));

  const std::string page = "<!doctype html>\n<title>whorl</title>\n" + std::string(3, '\0') + "\xC2\xB5m\n";
  write(folder / "share/whorl/whorl.html", page);
  CHECK(run(folder, {program, "page", "-o", target}) == 0);
  CHECK(read(target) == page);

  write(target, "mine");
  CHECK(run(folder, {program, "page", "-o", target}) == 2);
  CHECK(read(folder / "err").find("already exists") != std::string::npos);
  CHECK(read(target) == "mine");
  CHECK(run(folder, {program, "page", "-o", target, "--force", "--json"}) == 0);
  CHECK(read(target) == page);
  CHECK(read(folder / "out").find("\"bytes\": " + std::to_string(page.size())) != std::string::npos);

  // never onto the installed page itself
  CHECK(run(folder, {program, "page", "-o", folder / "share/whorl/whorl.html", "--force"}) == 2);
  CHECK(read(folder / "share/whorl/whorl.html") == page);
}

TEST_CASE("the page is looked for where it is installed, beside the program, and in the folder of builds") {
  CHECK(whorl::app::places_of_the_page("/opt/whorl/bin") ==
        std::vector<std::string>{"/opt/whorl/share/whorl/whorl.html", "/opt/whorl/bin/whorl.html", "/page/whorl.html"});
}
