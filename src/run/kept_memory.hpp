// Memory that one estimate gives back and the next asks for again.
#pragma once

namespace whorl::run {

/// Keeps freed memory with the program instead of handing it back to the system and asking for it again a thousand
/// times a second, as the GNU C library does for each vector of 128 kB and for the end of the heap. Other C libraries
/// are left as they are. Call once, before other threads start.
void keep_memory();

}  // namespace whorl::run
