// Runs every file of the named folders (and every named file) through the fuzz target that is linked in. A folder that does not
// exist, or no input at all, is a failure: a replay that reads nothing proves nothing.
#include <cstddef>
#include <cstdint>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size);

namespace {

void run(const std::filesystem::path& path) {
  std::ifstream input(path, std::ios::binary);
  const std::string bytes{std::istreambuf_iterator<char>(input), std::istreambuf_iterator<char>()};
  // Its own block of exactly that size, so that a sanitizer sees a read behind the end.
  const std::vector<std::uint8_t> block(bytes.begin(), bytes.end());
  std::fprintf(stderr, "%s\n", path.c_str());  // the last one named is the one that broke
  LLVMFuzzerTestOneInput(block.data(), block.size());
}

}  // namespace

int main(int argc, char** argv) {
  std::size_t inputs = 0;
  for (int i = 1; i < argc; ++i) {
    const std::filesystem::path path = argv[i];
    if (!std::filesystem::exists(path)) {
      std::fprintf(stderr, "%s does not exist\n", argv[i]);
      return 1;
    }
    if (!std::filesystem::is_directory(path)) {
      run(path);
      ++inputs;
      continue;
    }
    for (const auto& entry : std::filesystem::recursive_directory_iterator(path)) {
      if (!entry.is_regular_file()) continue;
      run(entry.path());
      ++inputs;
    }
  }
  std::printf("%zu inputs\n", inputs);
  return inputs > 0 ? 0 : 1;
}
