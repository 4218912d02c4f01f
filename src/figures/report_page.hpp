// A report as one HTML page that needs nothing from anywhere else: style, script, figures and data are inside.
#pragma once
#include <string>
#include <string_view>
#include <vector>

#include "figures/figure_kinds.hpp"

namespace whorl::figures {

/// A cell of a table: text for people, and what is copied where that is more exact.
struct PageCell {
  std::string text;
  std::string copied{};   ///< empty: the text
  bool number{};          ///< set to the right; copied as a number
  RichText rich{};        ///< shown instead of the text where it is not empty
};
struct PageTable {
  std::string id;         ///< of the element; letters, digits and '-'
  std::string caption;
  std::vector<std::string> header;
  std::vector<std::vector<PageCell>> rows;  ///< as many cells as the header; the first names the row
};

/// Pieces of a section, already HTML. Make them with the functions below, which escape what they are given.
struct PageSection {
  std::string id;
  std::string title;
  std::string html;
};

/// Italics, sub- and superscripts as elements.
[[nodiscard]] std::string html_rich(const RichText& text);
[[nodiscard]] std::string html_paragraph(std::string_view text);
[[nodiscard]] std::string html_list(const std::vector<std::string>& items);
[[nodiscard]] std::string html_heading(std::string_view text, int order = 3);
[[nodiscard]] std::string html_table(const PageTable& table);
[[nodiscard]] std::string html_figure(const Figure& figure);

/// Map, path and profile that answer to each other. `data_json`: what the script needs, see report_page.js.
struct PageExplorer {
  Figure map, path, profile;
  std::string intro;
  std::string data_json;
};
[[nodiscard]] std::string html_explorer(const PageExplorer& explorer);

struct ReportPage {
  std::string title;
  std::string lead;                 ///< a sentence under the title; may be empty
  std::string opening;              ///< first screen, already HTML (html_opening); may be empty
  std::vector<std::string> cautions;  ///< at the top, always seen
  std::vector<PageSection> sections;
  std::string footer;
};
/// The whole document. A content security policy allows this page's own style and script, by their digest, and no
/// connection.
[[nodiscard]] std::string report_html(const ReportPage& page);

/// Base64 with padding.
/// Source: RFC 4648, section 4
[[nodiscard]] std::string base64(std::string_view bytes);

}  // namespace whorl::figures
