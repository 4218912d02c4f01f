// whorl merge: joins the shares of one sweep into the file that one run would have written.
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <charconv>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <functional>
#include <iostream>
#include <string>
#include <string_view>
#include <system_error>
#include <utility>
#include <vector>

#include "answer/answer.hpp"
#include "answer/provenance.hpp"
#include "app/commands.hpp"
#include "io/files_read.hpp"
#include "io/json_document.hpp"
#include "run/progress.hpp"
#include "table/sweep_database.hpp"
#include "table/whole_file.hpp"
#include "whorl/io/csv.hpp"
#include "whorl/io/csvw.hpp"
#include "whorl/model/error.hpp"

namespace whorl::app {
namespace {

constexpr const char* kRows = "rows";
constexpr std::size_t kChunk = std::size_t{1} << 20;

struct Share {
  std::string path;
  std::string metadata;  ///< text of the document
  io::TableIdentity identity;
  std::uint64_t first{}, last{}, points{};  ///< rows first to last of the points of the sweep, from 1
  std::string header;
};

std::string read_metadata(const std::string& path) {
  if (table::names_database(path)) return table::sweep_database_metadata(path);
  const std::string name = io::csvw_file(path);
  if (::access(name.c_str(), F_OK) != 0)
    throw InputError(path, "", "no metadata file " + name + " beside it",
                     "a share written by `whorl sweep --part k/n -o FILE`");
  return io::read_text_file(name, io::Named::in_a_file);
}

std::uint64_t whole(const std::string& path, std::string_view text) {
  std::uint64_t value = 0;
  const auto [stop, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc() || stop != text.data() + text.size() || value < 1)
    throw InputError(io::csvw_file(path), "schema:additionalProperty",
                     "no range of rows in \"" + std::string(text) + "\"", "the metadata that the sweep wrote");
  return value;
}

Share describe(const std::string& path) {
  Share share;
  share.path = path;
  share.metadata = read_metadata(path);
  share.identity = io::read_csvw_identity(share.metadata, io::csvw_file(path));
  for (const auto& [name, value] : share.identity.facts) {
    if (name == "points") share.points = whole(path, value);
    if (name != kRows) continue;
    const auto to = value.find(" to ");
    if (to == std::string::npos) whole(path, value + " ");
    share.first = whole(path, std::string_view(value).substr(0, to));
    share.last = whole(path, std::string_view(value).substr(to + 4));
  }
  if (share.points == 0 || share.first == 0 || share.last < share.first || share.last > share.points)
    throw InputError(io::csvw_file(path), "schema:additionalProperty", "no number of points or range of rows",
                     "the metadata that the sweep wrote");
  return share;
}

// Why two shares cannot be of one sweep, in the order in which a person would look.
std::string difference(const Share& a, const Share& b) {
  if (a.identity.program_version != b.identity.program_version)
    return "made by version " + b.identity.program_version + " of the program, the others by " +
           a.identity.program_version;
  if (a.identity.case_sha256 != b.identity.case_sha256) return "made from another case than " + a.path;
  if (a.identity.identity == b.identity.identity && a.points == b.points) return {};
  const auto value = [](const Share& share, std::string_view name) {
    std::string all;
    for (const auto& [key, text] : share.identity.facts)
      if (key == name) all += text + '\n';
    return all;
  };
  if (value(a, "property library") != value(b, "property library"))
    return "made with another property library than " + a.path;
  return "made from another design or other varied values than " + a.path;
}

std::string range_text(std::uint64_t first, std::uint64_t last) {
  return first == last ? "row " + std::to_string(first)
                       : "rows " + std::to_string(first) + " to " + std::to_string(last);
}

// Sorted by rows; every point once.
void order(std::vector<Share>& shares) {
  std::sort(shares.begin(), shares.end(), [](const Share& a, const Share& b) { return a.first < b.first; });
  std::uint64_t next = 1;
  for (std::size_t i = 0; i < shares.size(); ++i) {
    const Share& share = shares[i];
    if (share.first < next)
      throw InputError(share.path, "",
                       range_text(share.first, std::min(next - 1, share.last)) + " are also in " + shares[i - 1].path,
                       "each share once");
    if (share.first > next)
      throw InputError("", "merge", range_text(next, share.first - 1) + " are missing", "all shares of the sweep");
    next = share.last + 1;
  }
  const std::uint64_t points = shares.front().points;
  if (next <= points)
    throw InputError("", "merge", range_text(next, points) + " are missing", "all shares of the sweep");
}

// Holds the lines of a share to what it promises: every row, whole and in order. `take` gets each with its line feed.
template <class Take>
class RowCheck {
 public:
  RowCheck(Share& share, Take take) : share_(share), take_(std::move(take)), number_(share.first) {}

  [[nodiscard]] InputError wrong(const std::string& what) const {
    return InputError(share_.path, "", "line " + std::to_string(at_) + ": " + what, "the file as the sweep wrote it");
  }

  void line(std::string_view text) {
    if (at_ == 1) {
      if (!io::split_csv_line(text, cells_) || cells_.empty() || cells_.front() != "point")
        throw wrong("not the header of a sweep");
      columns_ = cells_.size();
      share_.header = std::string(text) + '\n';
    } else {
      if (!io::split_csv_line(text, cells_) || cells_.size() != columns_) throw wrong("not a row of this table");
      if (cells_.front() != std::to_string(number_) || number_ > share_.last)
        throw wrong(
            "point " + cells_.front() + " where " +
            (number_ > share_.last ? std::string("the share ends") : "point " + std::to_string(number_) + " belongs"));
      ++number_;
      row_.assign(text);
      row_ += '\n';
      take_(row_);
    }
    ++at_;
  }

  void end() const {
    if (at_ == 1) throw wrong("no header");
    if (number_ <= share_.last)
      throw InputError(share_.path, "", range_text(number_, share_.last) + " are not there yet",
                       "a finished share: the same sweep command with --resume");
  }

 private:
  Share& share_;
  Take take_;
  std::uint64_t number_;
  std::uint64_t at_{1};
  std::size_t columns_{};
  std::vector<std::string> cells_;
  std::string row_;
};

template <class Take>
void read_rows(Share& share, Take take) {
  RowCheck<Take> check(share, std::move(take));
  if (table::names_database(share.path)) {
    table::read_sweep_database(share.path, [&](std::string_view line) { check.line(line); });
    check.end();
    return;
  }
  std::error_code ignored;
  if (std::filesystem::exists(share.path, ignored) && !std::filesystem::is_regular_file(share.path, ignored))
    throw InputError(share.path, "", "not a regular file", "the file as the sweep wrote it (it is read twice)");
  io::note_file_read(share.path);
  std::ifstream input(share.path, std::ios::binary);
  if (!input) throw InputError(share.path, "", "cannot be read", "a readable file");
  // A row is short; a megabyte without a line feed is some other file and must not fill the memory.
  std::vector<char> room(kChunk);
  for (;;) {
    input.getline(room.data(), static_cast<std::streamsize>(room.size()));
    const auto count = static_cast<std::size_t>(input.gcount());
    if (count == 0) break;
    if (input.fail()) throw check.wrong("longer than any row of a sweep");
    if (input.eof() && share.header.empty()) throw check.wrong("not the header of a sweep");
    if (input.eof()) throw check.wrong("the row is torn; finish the share with --resume");
    check.line({room.data(), count - 1});
  }
  check.end();
}

// `write` gives all rows in pieces to what it is called with.
void write_database(const std::string& path, table::Existing existing, const std::string& metadata,
                    const std::string& header,
                    const std::function<void(const std::function<void(std::string_view)>&)>& write) {
  table::SweepFileSetup setup;
  const std::string folder = table::private_folder_beside(path, "-o");
  setup.path = folder + "/joined";
  setup.metadata = metadata;
  setup.header = header;
  setup.columns = io::read_csvw_columns(metadata, path);
  const std::string draft = setup.path;
  const auto clear = [&] {
    for (const char* rest : {"", "-journal"}) ::unlink((draft + rest).c_str());
    ::rmdir(folder.c_str());
  };
  try {
    const auto database = table::open_sweep_database(std::move(setup));
    write([&](std::string_view rows) { database->append(rows); });
    database->close(true);
  } catch (...) {
    clear();
    throw;
  }
  // What a killed sweep left beside an earlier database would be played back into the new one.
  if (existing == table::Existing::replace) ::unlink((path + "-journal").c_str());
  const bool placed = table::put_in_place(draft, path, existing);
  const int error = errno;
  clear();
  if (!placed && error == EEXIST)
    throw InputError(path, "-o", "has appeared while this command ran; it was kept",
                     "--force to replace it, or another name");
  if (!placed) table::cannot_write(path, "-o", error);
  table::sync_folder(path);
}

void check_database_target(const MergeArguments& arguments) {
  std::error_code ignored;
  const auto status = std::filesystem::symlink_status(arguments.output, ignored);
  table::refuse_input_as_output(arguments.output, "-o");
  if (std::filesystem::exists(status) && !std::filesystem::is_regular_file(status))
    throw InputError(arguments.output, "-o", "not a regular file", "the name of a new database");
  table::check_target(arguments.output, "-o", table::existing_if(arguments.force));
  table::refuse_beside_database(arguments.output, arguments.force && std::filesystem::exists(status));
}

}  // namespace

int run_merge(const MergeArguments& arguments, const console::Streams& streams) {
  table::begin_command();
  const document::Format format = answer::answer_format(arguments.json, arguments.form);
  if (arguments.shares.empty()) throw InputError("", "SHARE", "none given", "the CSV files of all shares of one sweep");
  std::vector<Share> shares;
  for (const auto& path : arguments.shares) {
    shares.push_back(describe(path));
    const std::string why = difference(shares.front(), shares.back());
    if (!why.empty()) throw InputError(path, "", why, "shares of one sweep");
  }
  order(shares);
  const std::uint64_t points = shares.front().points;
  run::Progress progress(run::progress_stream(streams.err, arguments.quiet), run::Expected::exactly, "rows read");
  progress.run_count()->expect(2 * points);
  // Everything is read once before anything is written: a bad share leaves no half-made file.
  for (auto& share : shares) {
    read_rows(share, [&](const std::string&) { progress.run_count()->add(1); });
    if (share.header != shares.front().header)
      throw InputError(share.path, "", "line 1: the header differs from that of " + shares.front().path,
                       "shares of one sweep");
  }

  const std::string about = io::csvw_file(arguments.output);
  const std::string metadata = io::csvw_of_whole(shares.front().metadata, io::csvw_file(shares.front().path),
                                                 arguments.output.substr(arguments.output.rfind('/') + 1),
                                                 {kRows, "1 to " + std::to_string(points)});
  const auto write_rows = [&](const std::function<void(std::string_view)>& append) {
    std::string rows;
    for (auto& share : shares) {
      read_rows(share, [&](const std::string& row) {
        rows += row;
        progress.run_count()->add(1);
        if (rows.size() < kChunk) return;
        append(rows);
        rows.clear();
      });
    }
    append(rows);
  };
  const bool database = table::names_database(arguments.output);
  if (database) check_database_target(arguments);
  else table::check_table_target(arguments.output, "-o", table::existing_if(arguments.force), metadata);
  // Drafts until all is written: a merge that is killed or runs out of disk has changed nothing, and is simply run
  // again.
  if (database) {
    write_database(arguments.output, table::existing_if(arguments.force), metadata, shares.front().header, write_rows);
  } else {
    const table::Existing existing = table::existing_if(arguments.force);
    table::DraftFile file(arguments.output, "-o", existing);
    file.append(shares.front().header);
    write_rows([&](std::string_view rows) { file.append(rows); });
    if (file.direct()) {  // a pipe has nothing beside it
      file.commit();
    } else {
      table::DraftFile description(about, "-o", table::existing_description(arguments.output, metadata, existing));
      description.append(metadata);
      table::commit_table(description, file, arguments.output);
    }
  }
  progress.stop();
  if (format != document::Format::text) {
    const io::TableIdentity& identity = shares.front().identity;
    document::Document summary{"Joined shares of a sweep", {}};
    summary.blocks.emplace_back(document::Quantities{{
        {"file", "file", arguments.output},
        {"metadata", "its metadata", database ? arguments.output : about},
        {"identity", "identity", "sha256:" + identity.identity},
        {"shares", "shares", static_cast<std::int64_t>(shares.size())},
        {"points", "points", static_cast<std::int64_t>(points)},
    }});
    answer::write_answer(std::move(summary), format, arguments.form.fragment,
                         {{"case", identity.case_name, identity.case_sha256, {}}}, streams.out);
  } else if (!arguments.quiet) {
    streams.err << arguments.output << ": " << points << (points == 1 ? " point" : " points") << " from "
                << shares.size() << (shares.size() == 1 ? " share" : " shares") << '\n';
  }
  return console::Exit::kDone;
}

}  // namespace whorl::app
