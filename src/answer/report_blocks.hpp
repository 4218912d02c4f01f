// Blocks of a document as elements of the report page, whose tables can be copied and whose symbols are set.
#pragma once
#include <string>
#include <vector>

#include "document/document.hpp"
#include "figures/report_page.hpp"

namespace whorl::answer {

/// Columns without a heading are left out. `id`: of the element.
[[nodiscard]] std::string page_table(const document::Table& table, const std::string& id, const std::string& caption);

/// What stands on the page so far: tables get ids `id`-1, `id`-2, equations their numbers.
struct PageCount {
  std::string id;
  int tables{}, equations{};
};
/// Sections inside begin with headings of order `heading`; one that is a table alone is its caption.
[[nodiscard]] std::string page_blocks(const std::vector<document::Block>& blocks, PageCount& count, int heading = 3);

}  // namespace whorl::answer
