// Which files this process has read as input: no output may replace one of them.
#pragma once
#include <string>

namespace whorl::io {

/// Remembers the file that `path` leads to, by device and inode. What is not there is not remembered. Thread-safe.
void note_file_read(const std::string& path);

/// The name under which the file with this device and inode was read; empty: it was not.
[[nodiscard]] std::string name_of_file_read(unsigned long long device, unsigned long long inode);

/// For programs that run several commands in one process (tests, fuzzing): a new command has read nothing.
void forget_files_read() noexcept;

}  // namespace whorl::io
