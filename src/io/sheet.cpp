#include "io/sheet.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <sstream>

#include "whorl/io/units.hpp"

namespace whorl::io {
namespace {

// Words folded at a width; every line after the first starts with `indent` blanks.
void fold(std::ostream& out, const std::string& text, std::size_t indent, std::size_t width) {
  std::istringstream words(text);
  std::string word;
  std::size_t at = indent;
  bool first = true;
  while (words >> word) {
    if (!first && at + 1 + word.size() > width) {
      out << '\n' << std::string(indent, ' ');
      at = indent;
      first = true;
    }
    if (!first) {
      out << ' ';
      ++at;
    }
    out << word;
    at += word.size();
    first = false;
  }
  out << '\n';
}

void paragraph(std::ostream& out, const std::string& text, std::size_t indent, std::size_t width) {
  out << std::string(indent, ' ');
  fold(out, text, indent, width);
}

// "CO2 kg/m3" stays as it is: units are short and read in text.
std::string unit_for_people(const std::string& unit) { return unit == "degC" ? "°C" : unit == "um" ? "µm" : unit; }

}  // namespace

namespace {

// What stands out without colour.
constexpr const char* kTextSign = "[!]";
constexpr const char* kPageSign = "&#9888;";

std::vector<const SheetRow*> exceeded_rows(const Sheet& sheet) {
  std::vector<const SheetRow*> rows;
  for (const SheetSection& section : sheet.sections)
    for (const SheetRow& row : section.rows)
      if (row.exceeded) rows.push_back(&row);
  return rows;
}

}  // namespace

std::string html_escaped(std::string_view text) {
  std::string out;
  out.reserve(text.size());
  for (const char c : text) {
    switch (c) {
      case '&': out += "&amp;"; break;
      case '<': out += "&lt;"; break;
      case '>': out += "&gt;"; break;
      case '"': out += "&quot;"; break;
      case '\'': out += "&#39;"; break;
      default: out += c;
    }
  }
  return out;
}

std::string row_value_text(const SheetRow& row) {
  if (!row.number) return "-";
  const std::string number = number_text(*row.number, row.digits);
  const std::string value = row.unit.empty() ? number : number + " " + row.unit;
  return row.exceeded ? value + ": EXCEEDED" : value;
}

std::string sheet_text(const Sheet& sheet, std::size_t width) {
  std::ostringstream out;
  out << sheet.title << '\n';
  if (const auto rows = exceeded_rows(sheet); !rows.empty()) {
    out << "\n" << kTextSign << " LIMITS EXCEEDED BY THIS PLAN\n";
    for (const SheetRow* row : rows) {
      out << "  " << kTextSign << ' ';
      fold(out, row_value_text(*row) + ". " + row->label, 6, width);
    }
    out << '\n';
  }
  if (!sheet.purpose.empty()) paragraph(out, sheet.purpose, 0, width);
  for (const std::string& fact : sheet.facts) paragraph(out, fact, 0, width);
  for (const SheetSection& section : sheet.sections) {
    out << '\n';
    for (const char c : section.title) out << static_cast<char>(c >= 'a' && c <= 'z' ? c - 'a' + 'A' : c);
    out << '\n';
    if (!section.intro.empty()) paragraph(out, section.intro, 2, width);
    std::size_t label = 0, value = 0;
    for (const SheetRow& row : section.rows) {
      label = std::max(label, std::min<std::size_t>(row.label.size(), 44));
      value = std::max(value, std::min<std::size_t>(row_value_text(row).size(), 18));
    }
    for (const SheetRow& row : section.rows) {
      std::string line = "  " + row.label;
      line.resize(std::max(line.size() + 2, label + 4), ' ');
      line += row_value_text(row);
      std::string behind = row.formula;
      if (!row.note.empty()) behind += (behind.empty() ? "" : "; ") + row.note;
      if (!row.source.empty()) behind += (behind.empty() ? "[" : " [") + row.source + "]";
      if (!behind.empty()) line.resize(std::max(line.size() + 2, label + value + 6), ' ');
      if (line.size() + behind.size() <= width) {
        out << line << behind << '\n';
      } else {
        out << line.substr(0, line.find_last_not_of(' ') + 1) << '\n';
        paragraph(out, behind, 6, width);
      }
    }
    if (!section.closing.empty()) paragraph(out, section.closing, 2, width);
  }
  if (!sheet.steps.empty()) {
    out << "\nSTEPS\n";
    for (const std::string& step : sheet.steps) {
      out << "  [ ] ";
      fold(out, step, 6, width);
    }
  }
  if (!sheet.cautions.empty()) {
    out << "\nCAUTIONS\n";
    for (const std::string& caution : sheet.cautions) paragraph(out, caution, 2, width);
  }
  out << '\n' << sheet.made_by << '\n';
  return out.str();
}

std::string sheet_html(const Sheet& sheet) {
  std::ostringstream out;
  const auto text = [](const std::string& t) { return html_escaped(t); };
  out << "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
         "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
         "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src "
         "'unsafe-inline'\">\n<title>"
      << text(sheet.title) << "</title>\n<style>\n"
      << "@page{margin:14mm}\n"
         "body{font:10.5pt/1.35 \"Liberation "
         "Sans\",Arial,Helvetica,sans-serif;color:#111;background:#fff;max-width:190mm;margin:8mm auto;padding:0 4mm}\n"
         "h1{font-size:17pt;margin:0 0 2mm}h2{font-size:12.5pt;margin:6mm 0 1.5mm;border-bottom:1.5pt solid "
         "#111;padding-bottom:.5mm}\n"
         "p{margin:1mm 0}.facts{color:#333}\n"
         "table{border-collapse:collapse;width:100%;margin:1mm 0}\n"
         "th,td{text-align:left;vertical-align:top;padding:.8mm 2mm .8mm 0;border-bottom:.5pt solid #999}\n"
         "thead th{font-size:9pt;color:#333;border-bottom:1pt solid #111}\n"
         "tbody th{font-weight:normal;width:34%}\n"
         "td.value{white-space:nowrap;font-weight:bold;width:19%}td.behind{font-size:9pt;color:#333}\n"
         "td.field{width:16%}td.field span{display:block;border-bottom:.75pt solid #111;height:4.5mm;min-width:24mm}\n"
         "ul.steps{list-style:none;padding:0;margin:1mm 0}ul.steps li{padding-left:7mm;position:relative;margin:1.2mm "
         "0}\n"
         "ul.steps li::before{content:\"\";position:absolute;left:0;top:.4mm;width:3.6mm;height:3.6mm;border:1pt solid "
         "#111}\n"
         ".cautions{border:1.5pt solid #111;padding:1mm 3mm;margin-top:6mm}.cautions h2{border:0;margin-top:1mm}\n"
         ".exceeded{border:2.5pt solid #111;padding:1mm 3mm;margin:3mm 0;break-inside:avoid}.exceeded "
         "h2{border:0;margin:1mm 0}\n"
         ".exceeded ul{list-style:none;margin:1mm 0;padding:0}.exceeded li{margin:.8mm 0}tr.over th,tr.over "
         "td.value{font-weight:bold}\n"
         ".sign{display:flex;gap:6mm;margin:4mm 0}.sign div{flex:1;border-bottom:.75pt solid "
         "#111;padding-top:7mm;font-size:9pt}\n"
         "footer{font-size:8.5pt;color:#333;margin-top:4mm}\n"
         "tr,li,.cautions p{break-inside:avoid}h2{break-after:avoid}\n"
         "@media screen and (max-width:600px){td.value{white-space:normal}td.field span{min-width:9mm}}\n"
         "@media print{body{margin:0;max-width:none;padding:0}}\n"
         "</style>\n</head>\n<body>\n<main>\n<h1>"
      << text(sheet.title) << "</h1>\n";
  if (!sheet.purpose.empty()) out << "<p>" << text(sheet.purpose) << "</p>\n";
  if (const auto rows = exceeded_rows(sheet); !rows.empty()) {
    out << "<section class=\"exceeded\">\n<h2>" << kPageSign << " Limits exceeded by this plan</h2>\n<ul>\n";
    for (const SheetRow* row : rows)
      out << "<li><strong>" << kPageSign << ' ' << text(row_value_text(*row)) << "</strong> " << text(row->label)
          << "</li>\n";
    out << "</ul>\n</section>\n";
  }
  for (const std::string& fact : sheet.facts) out << "<p class=\"facts\">" << text(fact) << "</p>\n";
  out << "<div class=\"sign\"><div>Name</div><div>Date</div><div>Batch</div></div>\n";
  for (const SheetSection& section : sheet.sections) {
    const bool fields =
        std::any_of(section.rows.begin(), section.rows.end(), [](const SheetRow& r) { return r.to_fill_in; });
    out << "<section>\n<h2>" << text(section.title) << "</h2>\n";
    if (!section.intro.empty()) out << "<p>" << text(section.intro) << "</p>\n";
    out << "<table>\n<thead><tr><th scope=\"col\">Quantity</th><th scope=\"col\">Value</th>"
        << (fields ? "<th scope=\"col\">As weighed or read</th>" : "")
        << "<th scope=\"col\">From</th></tr></thead>\n<tbody>\n";
    for (const SheetRow& row : section.rows) {
      SheetRow shown = row;
      shown.unit = unit_for_people(row.unit);
      out << (row.exceeded ? "<tr class=\"over\">" : "<tr>") << "<th scope=\"row\">" << text(row.label)
          << "</th><td class=\"value\">" << text(row_value_text(shown)) << "</td>";
      if (fields) out << (row.to_fill_in ? "<td class=\"field\"><span></span></td>" : "<td class=\"field\"></td>");
      std::string behind = row.formula;
      if (!row.note.empty()) behind += (behind.empty() ? "" : "; ") + row.note;
      if (!row.source.empty()) behind += (behind.empty() ? "[" : " [") + row.source + "]";
      out << "<td class=\"behind\">" << text(behind) << "</td></tr>\n";
    }
    out << "</tbody>\n</table>\n";
    if (!section.closing.empty()) out << "<p>" << text(section.closing) << "</p>\n";
    out << "</section>\n";
  }
  if (!sheet.steps.empty()) {
    out << "<section>\n<h2>Steps</h2>\n<ul class=\"steps\">\n";
    for (const std::string& step : sheet.steps) out << "<li>" << text(step) << "</li>\n";
    out << "</ul>\n</section>\n";
  }
  if (!sheet.cautions.empty()) {
    out << "<section class=\"cautions\">\n<h2>Cautions</h2>\n";
    for (const std::string& caution : sheet.cautions) out << "<p>" << text(caution) << "</p>\n";
    out << "</section>\n";
  }
  out << "</main>\n<footer>" << text(sheet.made_by) << "</footer>\n</body>\n</html>\n";
  return out.str();
}

nlohmann::ordered_json sheet_json(const Sheet& sheet) {
  using Ordered = nlohmann::ordered_json;
  Ordered sections = Ordered::array();
  for (const SheetSection& section : sheet.sections) {
    Ordered rows = Ordered::array();
    for (const SheetRow& row : section.rows) {
      Ordered item = {{"key", row.key}, {"label", row.label}};
      if (row.number) item["value"] = tidy(*row.number);
      item["unit"] = row.unit;
      if (!row.formula.empty()) item["formula"] = row.formula;
      if (!row.source.empty()) item["source"] = row.source;
      if (!row.note.empty()) item["note"] = row.note;
      if (row.exceeded) item["exceeded"] = true;
      rows.push_back(item);
    }
    sections.push_back({{"title", section.title}, {"rows", rows}});
  }
  return {{"title", sheet.title}, {"sections", sections}, {"cautions", sheet.cautions}, {"made_by", sheet.made_by}};
}

}  // namespace whorl::io
