#include "figures/report_page.hpp"

#include "figures/svg.hpp"
#include "io/builtin_data.hpp"
#include "io/sha256.hpp"

namespace whorl::figures {
namespace {

// Digest of an inline element as a content security policy writes it.
std::string policy_digest(const std::string& text) {
  const std::string hex = io::sha256_hex(text);
  const auto digit = [](char c) { return static_cast<unsigned>(c <= '9' ? c - '0' : c - 'a' + 10); };
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2)
    bytes.push_back(static_cast<char>(16U * digit(hex[i]) + digit(hex[i + 1])));
  return "'sha256-" + base64(bytes) + '\'';
}

// A document inside another: no XML declaration, and line ends that do not matter.
std::string inline_svg(const Figure& figure) { return figure.svg; }

}  // namespace

std::string base64(std::string_view bytes) {
  static constexpr std::string_view kDigits = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  std::string out;
  for (std::size_t i = 0; i < bytes.size(); i += 3) {
    const auto byte = [&](std::size_t k) {
      return i + k < bytes.size() ? static_cast<unsigned char>(bytes[i + k]) : 0U;
    };
    const unsigned group = (byte(0) << 16U) | (byte(1) << 8U) | byte(2);
    out += kDigits[(group >> 18U) & 63U];
    out += kDigits[(group >> 12U) & 63U];
    out += i + 1 < bytes.size() ? kDigits[(group >> 6U) & 63U] : '=';
    out += i + 2 < bytes.size() ? kDigits[group & 63U] : '=';
  }
  return out;
}

std::string html_rich(const RichText& text) {
  std::string out;
  for (const auto& run : text) {
    const std::string_view script = run.script < 0 ? "sub" : "sup";
    std::string piece = xml_escaped(run.text);
    if (run.italic) piece = "<i>" + piece + "</i>";
    if (run.script != 0) piece = '<' + std::string(script) + '>' + piece + "</" + std::string(script) + '>';
    out += piece;
  }
  return out;
}

std::string html_paragraph(std::string_view text) { return "<p>" + xml_escaped(text) + "</p>\n"; }

std::string html_list(const std::vector<std::string>& items) {
  if (items.empty()) return {};
  std::string out = "<ul>\n";
  for (const auto& item : items) out += "<li>" + xml_escaped(item) + "</li>\n";
  return out + "</ul>\n";
}

std::string html_heading(std::string_view text, int order) {
  const std::string element = 'h' + std::to_string(order) + '>';
  return '<' + element + xml_escaped(text) + "</" + element + '\n';
}

std::string html_table(const PageTable& table) {
  const std::string id = xml_escaped(table.id);
  constexpr std::size_t kSmall = 16;  // rows that print on one page
  std::string out = std::string("<div class=\"table") + (table.rows.size() <= kSmall ? " small" : "") +
                    "\">\n<button type=\"button\" class=\"copy\" data-table=\"" + id +
                    "\" aria-label=\"Copy table: " + xml_escaped(table.caption) +
                    "\">Copy</button>\n<div class=\"scroll\" role=\"region\" tabindex=\"0\" aria-labelledby=\"" + id +
                    "-caption\">\n<table id=\"" + id + "\">\n<caption id=\"" + id + "-caption\">" +
                    xml_escaped(table.caption) + "</caption>\n<thead><tr>";
  for (const auto& name : table.header) out += "<th scope=\"col\">" + xml_escaped(name) + "</th>";
  out += "</tr></thead>\n<tbody>\n";
  for (const auto& row : table.rows) {
    out += "<tr>";
    for (std::size_t i = 0; i < row.size(); ++i) {
      const auto& cell = row[i];
      out += i == 0 ? "<th scope=\"row\"" : "<td";
      if (cell.number) out += " class=\"number\"";
      if (!cell.copied.empty()) out += " data-copy=\"" + xml_escaped(cell.copied) + '"';
      std::string shown = cell.rich.empty() ? xml_escaped(cell.text) : html_rich(cell.rich);
      // Long keys may break behind an underscore or a dot.
      if (i == 0 && cell.text.find(' ') == std::string::npos)
        for (std::size_t at = 0; (at = shown.find_first_of("_.", at)) != std::string::npos; at += 6)
          shown.insert(at + 1, "<wbr>");
      out += '>' + shown + (i == 0 ? "</th>" : "</td>");
    }
    out += "</tr>\n";
  }
  return out + "</tbody>\n</table>\n</div>\n</div>\n";
}

std::string html_figure(const Figure& figure) {
  return "<figure>\n" + inline_svg(figure) + "<figcaption>" + xml_escaped(figure.caption) +
         "</figcaption>\n</figure>\n";
}

std::string html_explorer(const PageExplorer& explorer) {
  std::string data = explorer.data_json;
  // Nothing in the data may end the element that holds it.
  for (std::size_t at = 0; (at = data.find('<', at)) != std::string::npos; at += 6) data.replace(at, 1, "\\u003c");
  return html_paragraph(explorer.intro) + "<div id=\"explorer\">\n<figure class=\"map\">\n<div class=\"stack\">\n" +
         inline_svg(explorer.map) + "</div>\n<figcaption>" + xml_escaped(explorer.map.caption) +
         "</figcaption>\n</figure>\n<div class=\"picked\">\n<h3 id=\"picked-title\">Picked point</h3>\n" +
         "<div id=\"picked\" aria-live=\"polite\"></div>\n</div>\n<figure>\n" + inline_svg(explorer.path) +
         "<figcaption>" + xml_escaped(explorer.path.caption) + "</figcaption>\n</figure>\n<figure>\n" +
         inline_svg(explorer.profile) + "<figcaption>" + xml_escaped(explorer.profile.caption) +
         "</figcaption>\n</figure>\n</div>\n<script type=\"application/json\" id=\"explorer-data\">" + data +
         "</script>\n";
}

std::string report_html(const ReportPage& page) {
  const std::string style = io::report_page_files()[0].text();
  const std::string script = io::report_page_files()[1].text();
  std::string out =
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta "
      "http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src " +
      policy_digest(style) + "; script-src " + policy_digest(script) +
      "; base-uri 'none'; form-action 'none'\">\n<meta name=\"viewport\" content=\"width=device-width, "
      "initial-scale=1\">\n<title>" +
      xml_escaped(page.title) + "</title>\n<style>" + style +
      "</style>\n</head>\n<body>\n<a class=\"skip\" href=\"#main\">Skip to the content</a>\n<header>\n<h1>" +
      xml_escaped(page.title) + "</h1>\n";
  if (!page.lead.empty()) out += "<p class=\"lead\">" + xml_escaped(page.lead) + "</p>\n";
  out += "</header>\n<main id=\"main\">\n" + page.opening + "<nav aria-label=\"Sections\">\n<ul>\n";
  for (const auto& section : page.sections)
    out += "<li><a href=\"#" + xml_escaped(section.id) + "\">" + xml_escaped(section.title) + "</a></li>\n";
  out += "</ul>\n</nav>\n";
  if (!page.cautions.empty()) {
    out += "<section class=\"caution\" aria-labelledby=\"caution-title\">\n<h2 id=\"caution-title\">Caution</h2>\n";
    for (const auto& caution : page.cautions) out += html_paragraph(caution);
    out += "</section>\n";
  }
  for (const auto& section : page.sections) {
    const std::string id = xml_escaped(section.id);
    out += "<section id=\"" + id + "\" aria-labelledby=\"" + id + "-title\">\n<h2 id=\"" + id + "-title\">" +
           xml_escaped(section.title) + "</h2>\n" + section.html + "</section>\n";
  }
  out += "</main>\n<footer>\n" + html_paragraph(page.footer) +
         "</footer>\n<div id=\"status\" class=\"away\" role=\"status\"></div>\n<script>" + script +
         "</script>\n</body>\n</html>\n";
  return out;
}

}  // namespace whorl::figures
