// A document as one page of HTML.
#include "document/escape.hpp"
#include "document/value.hpp"
#include "document/write.hpp"

namespace whorl::document {
namespace {

constexpr const char* kStyle =
    "@page{margin:14mm}\n"
    "body{font:11pt/1.4 \"Liberation Sans\",Arial,Helvetica,sans-serif;color:#111;background:#fff;max-width:190mm;"
    "margin:8mm auto;padding:0 4mm}\n"
    "h1{font-size:17pt;margin:0 0 3mm}h2{font-size:13pt;margin:6mm 0 1.5mm}h3,h4{font-size:11pt;margin:4mm 0 1mm}\n"
    "table{border-collapse:collapse;margin:2mm 0}caption{text-align:left;padding:1mm 0}\n"
    "th,td{text-align:left;vertical-align:top;padding:.8mm 4mm .8mm 0;border-bottom:.5pt solid #999}\n"
    "thead th{border-bottom:1pt solid #111}tbody th{font-weight:normal}td.n,th.n{text-align:right}\n"
    "td.from{color:#333;font-size:9.5pt}p{max-width:160mm}.equation{font-style:italic;margin-left:8mm}\n"
    "figure{margin:3mm 0}figure svg{max-width:100%;height:auto}footer{color:#333;font-size:9pt;margin-top:5mm}\n"
    "tr,li,figure{break-inside:avoid}h2,h3,h4{break-after:avoid}\n";

std::string set(const Text& text) {
  return translated(text, html_escaped, [](const Piece& piece) { return "<i>" + html_escaped(piece.plain) + "</i>"; });
}

struct HtmlWriter {
  std::string out;
  int level{2};
  int equations{};

  void cell(const std::string& element, const std::string& attributes, const std::string& content) {
    out += '<' + element + attributes + '>' + content + "</" + element + '>';
  }

  void operator()(const Quantities& quantities) {
    const auto [any, behind] = needed(quantities);
    if (!any) return;
    out += "<table>\n<thead><tr><th scope=\"col\">Quantity</th><th scope=\"col\">Value</th>";
    if (behind) out += "<th scope=\"col\">From</th>";
    out += "</tr></thead>\n<tbody>\n";
    for (const Quantity& row : quantities.rows) {
      if (row.label.empty()) continue;
      out += "<tr>";
      cell("th", " scope=\"row\"", set(row.label));
      cell("td", "", html_escaped(value_text(row)));
      if (behind) cell("td", " class=\"from\"", set(behind_text(row)));
      out += "</tr>\n";
    }
    out += "</tbody>\n</table>\n";
  }
  void operator()(const Sentence& sentence) {
    if (!sentence.text.empty()) out += "<p>" + set(sentence.text) + "</p>\n";
  }
  void operator()(const List& list) {
    if (list.items.empty() || list.for_machines) return;
    out += "<ul>\n";
    for (const Text& item : list.items)
      out += "<li>" + std::string(list.to_tick ? "&#9744; " : "") + (list.label.empty() ? "" : set(list.label) + ": ") +
             set(item) + "</li>\n";
    out += "</ul>\n";
  }
  void operator()(const Table& table) {
    std::string head;
    std::vector<std::size_t> shown;
    const auto number = [&](std::size_t k) { return !table.rows.empty() && is_number(table.rows.front()[k]); };
    for (std::size_t k = 0; k < table.columns.size(); ++k) {
      if (table.columns[k].label.empty()) continue;
      shown.push_back(k);
      head += std::string("<th scope=\"col\"") + (number(k) ? " class=\"n\">" : ">") +
              set(heading_text(table.columns[k])) + "</th>";
    }
    if (shown.empty() || table.rows.empty()) return;
    out += "<table>\n";
    if (!table.caption.empty()) out += "<caption>" + set(table.caption) + "</caption>\n";
    out += "<thead><tr>" + head + "</tr></thead>\n<tbody>\n";
    for (const auto& row : table.rows) {
      out += "<tr>";
      for (const std::size_t k : shown) {
        const std::string text = html_escaped(value_text(row[k], "", table.columns[k].digits));
        if (k == shown.front())
          cell("th", " scope=\"row\"", text);
        else
          cell("td", number(k) ? " class=\"n\"" : "", text);
      }
      out += "</tr>\n";
    }
    out += "</tbody>\n</table>\n";
  }
  void operator()(const Equation& equation) {
    out += "<p class=\"equation\">" + html_escaped(equation.plain) + " (" + std::to_string(++equations) + ")</p>\n";
  }
  void operator()(const Figure& figure) {
    out += "<figure>\n" + figure.svg + "\n<figcaption>" + set(figure.caption) + "</figcaption>\n</figure>\n";
  }
  void operator()(const Data&) {}
  void operator()(const Section& section) {
    if (section.for_machines) return;
    if (section.title.empty()) {
      for (const Block& block : section.blocks) std::visit(*this, block);
      return;
    }
    const std::string heading = 'h' + std::to_string(level < 6 ? level : 6);
    out += "<section>\n";
    cell(heading, "", set(section.title));
    out += '\n';
    ++level;
    for (const Block& block : section.blocks) std::visit(*this, block);
    --level;
    out += "</section>\n";
  }
};

}  // namespace

std::string write_html(const Document& document) {
  const std::string title = html_escaped(plain(document.title));
  HtmlWriter writer;
  writer.out =
      "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">\n"
      "<title>" +
      title + "</title>\n<style>\n" + kStyle + "</style>\n</head>\n<body>\n<main>\n<h1>" + set(document.title) +
      "</h1>\n";
  for (const Block& block : document.blocks) std::visit(writer, block);
  writer.out += "</main>\n";
  if (!document.made_by.empty()) writer.out += "<footer>" + html_escaped(document.made_by) + "</footer>\n";
  return writer.out + "</body>\n</html>\n";
}

}  // namespace whorl::document
