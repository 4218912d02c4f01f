// A sweep in an SQLite database instead of a CSV file: the same rows with their types, and the metadata inside.
// Layout: docs/formats/sweep.md. Compiled without SQLite (WHORL_WITH_SQLITE not defined) everything here refuses.
#pragma once
#include <functional>
#include <memory>
#include <string>
#include <string_view>

#include "table/sweep_file.hpp"

namespace whorl::table {

/// Whether the ending of a name asks for a database: .sqlite, .sqlite3 or .db.
[[nodiscard]] bool names_database(std::string_view path) noexcept;

/// Version of the library, empty when the program was built without it.
[[nodiscard]] std::string database_library();

/// Begins or continues a database. Rows are committed once a second and at the end: after a kill it holds whole rows,
/// and --resume goes on.
/// Error: InputError when the file may not be used, OutputError when it cannot be written.
[[nodiscard]] std::unique_ptr<SweepOutput> open_sweep_database(SweepFileSetup setup);

/// SQLite takes "NAME-journal", "NAME-wal" and "NAME-shm" for its own, and removes or applies them: what is another's,
/// or an input, must not stand there. `begun`: there is a database of that name, to which the journal of a run that was
/// killed belongs.
/// Error: InputError
void refuse_beside_database(const std::string& path, bool begun);

/// The metadata document inside a database. Error: InputError when it is no database of a sweep.
[[nodiscard]] std::string sweep_database_metadata(const std::string& path);

/// Gives the header and every row in the order of the points as the line of the CSV file it stands for, without line
/// feed.
/// Error: InputError when it is no database of a sweep.
void read_sweep_database(const std::string& path, const std::function<void(std::string_view line)>& take);

}  // namespace whorl::table
