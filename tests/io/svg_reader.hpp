// Reads back the SVG that the figures write: elements in order with their attributes, a stack of groups, axes and paths as numbers.
#pragma once
#include <charconv>
#include <cmath>
#include <map>
#include <stdexcept>
#include <string>
#include <vector>

namespace svg_reader {

struct Element {
  std::string name;
  std::map<std::string, std::string> attributes;
  std::vector<std::size_t> parents;  ///< indices, outermost first
  std::string text;                  ///< character data, of children too
  [[nodiscard]] std::string get(const std::string& key) const {
    const auto found = attributes.find(key);
    return found == attributes.end() ? std::string() : found->second;
  }
  [[nodiscard]] double number(const std::string& key) const {
    const std::string value = get(key);
    double out = NAN;
    const auto result = std::from_chars(value.data(), value.data() + value.size(), out);
    if (value.empty() || result.ec != std::errc() || result.ptr != value.data() + value.size())
      throw std::runtime_error("not a number: " + key + "=\"" + value + '"');
    return out;
  }
};

inline std::string unescaped(std::string text) {
  for (const auto& [from, to] : std::vector<std::pair<std::string, std::string>>{{"&lt;", "<"}, {"&gt;", ">"}, {"&quot;", "\""}, {"&#39;", "'"}, {"&amp;", "&"}})
    for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size()) text.replace(at, from.size(), to);
  return text;
}

/// Error: std::runtime_error when the text is not well-formed (of what these figures use of XML)
inline std::vector<Element> parse(const std::string& text) {
  std::vector<Element> out;
  std::vector<std::size_t> open;
  std::size_t at = 0;
  const auto fail = [&](const std::string& what) { throw std::runtime_error(what + " at byte " + std::to_string(at)); };
  while (at < text.size()) {
    if (text[at] != '<') {
      std::size_t end = text.find('<', at);
      if (end == std::string::npos) end = text.size();
      const std::string data = text.substr(at, end - at);
      for (std::size_t amp = data.find('&'); amp != std::string::npos; amp = data.find('&', amp + 1))
        if (data.find(';', amp) == std::string::npos) fail("bare ampersand");
      for (const std::size_t i : open) out[i].text += unescaped(data);
      if (open.empty() && data.find_first_not_of(" \n") != std::string::npos) fail("text outside the document");
      at = end;
      continue;
    }
    const std::size_t end = text.find('>', at);
    if (end == std::string::npos) fail("open tag");
    std::string tag = text.substr(at + 1, end - at - 1);
    if (tag.empty()) fail("empty tag");
    if (tag.front() == '/') {
      if (open.empty() || out[open.back()].name != tag.substr(1)) fail("closing tag " + tag);
      open.pop_back();
      at = end + 1;
      continue;
    }
    const bool closed = tag.back() == '/';
    if (closed) tag.pop_back();
    Element element;
    element.parents = open;
    std::size_t p = tag.find_first_of(" \n");
    element.name = tag.substr(0, p);
    while (p != std::string::npos && (p = tag.find_first_not_of(" \n", p)) != std::string::npos) {
      const std::size_t equals = tag.find("=\"", p);
      if (equals == std::string::npos) fail("attribute without value in " + tag);
      const std::size_t quote = tag.find('"', equals + 2);
      if (quote == std::string::npos) fail("open attribute in " + tag);
      const std::string key = tag.substr(p, equals - p);
      if (key.find_first_of(" <>\"'") != std::string::npos || element.attributes.count(key) != 0) fail("attribute name " + key);
      element.attributes[key] = unescaped(tag.substr(equals + 2, quote - equals - 2));
      p = quote + 1;
      if (p < tag.size() && tag[p] != ' ' && tag[p] != '\n') fail("no blank between attributes in " + tag);
    }
    out.push_back(element);
    if (!closed) open.push_back(out.size() - 1);
    at = end + 1;
  }
  if (!open.empty()) fail("unclosed " + out[open.back()].name);
  return out;
}

struct Point {
  double x, y;
};

/// The parts of a path of M, L and Z.
inline std::vector<std::vector<Point>> path_points(const std::string& data) {
  std::vector<std::vector<Point>> out;
  const char* at = data.data();
  const char* end = at + data.size();
  while (at < end) {
    const char command = *at++;
    if (command == 'Z') continue;
    if (command != 'M' && command != 'L') throw std::runtime_error(std::string("path command ") + command);
    Point p{};
    auto r = std::from_chars(at, end, p.x);
    if (r.ec != std::errc() || r.ptr == end || *r.ptr != ' ') throw std::runtime_error("path numbers: " + data.substr(0, 40));
    r = std::from_chars(r.ptr + 1, end, p.y);
    if (r.ec != std::errc()) throw std::runtime_error("path numbers");
    at = r.ptr;
    if (command == 'M') out.emplace_back();
    out.back().push_back(p);
  }
  return out;
}

/// The value behind a coordinate, from the data-* attributes of the frame.
inline double value_at(const Element& frame, const std::string& axis, double coordinate) {
  const std::string name = "data-" + axis;
  const double share = (coordinate - frame.number(name + "-start")) / (frame.number(name + "-end") - frame.number(name + "-start"));
  const double low = frame.number(name + "-low");
  const double high = frame.number(name + "-high");
  return frame.get(name + "-scale") == "log" ? low * std::pow(high / low, share) : low + share * (high - low);
}

}  // namespace svg_reader
