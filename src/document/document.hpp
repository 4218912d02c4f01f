// What a command has to say, as plain values: said once, then written as text, JSON, Markdown, LaTeX or HTML
// (write.hpp).
// A name for people (label, title) and one for machines (key: a public name of JSON) stand side by side. Without a key
// a thing is for people only, without a label or title it is for machines only.
#pragma once
#include <cstdint>
#include <optional>
#include <string>
#include <utility>
#include <variant>
#include <vector>

#include "document/text.hpp"

namespace whorl::document {

/// Nothing known, yes or no, a whole number, a number, or words.
using Value = std::variant<std::monostate, bool, std::int64_t, double, std::string>;

/// A row of quantities: "boiling point   61.1 degC ± 0.3 K [source]".
struct Quantity {
  std::string key;
  Text label;
  Value value;
  std::string unit{};          ///< as people write it; "" or "1": none
  int digits{4};               ///< significant digits for people
  std::optional<double> sd{};  ///< one standard deviation
  std::string sd_unit{};       ///< where it differs: a temperature in degC is uncertain by so many K; empty: `unit`
  Text behind{};               ///< how it was got, what to bear in mind
  std::string source{};
};
/// A row that only machines read.
[[nodiscard]] inline Quantity fact(std::string key, Value value) { return {std::move(key), {}, std::move(value)}; }

struct Quantities {
  std::vector<Quantity> rows;
  std::size_t least_label{};  ///< characters that labels take at least, where blocks of a page stand in line
};

/// A paragraph.
struct Sentence {
  Text text;
  std::string key{};  ///< with one, JSON has the sentence, too
};

struct List {
  std::string key;
  Text label;  ///< before each item; empty: none
  std::vector<Text> items;
  bool to_tick{};       ///< steps, done one after the other
  bool for_machines{};  ///< people read it elsewhere
};

struct Column {
  std::string key;
  Text label;
  std::string unit{};  ///< in the heading; "" or "1": none
  int digits{4};
};
struct Table {
  std::string key;
  Text caption;
  std::vector<Column> columns;
  std::vector<std::vector<Value>> rows;  ///< as many values as columns; people see no table without rows
  /// In JSON not an array but an object: every row under the words of its first column, and, where only one other
  /// column has a key, that value alone.
  bool named{};
  bool sparse{};  ///< JSON leaves out what is not known, which else is null
};

struct Equation {
  std::string plain;
  std::string latex;  ///< without dollar signs
  std::string label;  ///< of LaTeX, "diameter"
};

/// A figure that was drawn before. Text and Markdown name what it shows, LaTeX keeps a place for it.
struct Figure {
  std::string svg;  ///< our own drawing, set into HTML as it is
  Text caption;
};

/// A tree of JSON that has its own description (docs/formats): its members stand beside the keys of the other blocks.
struct Data {
  std::string json;  ///< an object
};

struct Section;
using Block = std::variant<Quantities, Sentence, List, Table, Equation, Figure, Data, Section>;

/// Blocks under a heading, which text writes in capitals: no names and units in it, unless it is one of `each`.
/// With a key they are an object of JSON, without one their keys stand in the object around.
struct Section {
  Text title;
  std::string key{};
  std::vector<Block> blocks{};
  bool each{};          ///< in JSON an array: one object for each section inside
  bool for_machines{};  ///< people read it elsewhere
};

struct Document {
  Text title;
  std::vector<Block> blocks;
  std::string made_by{};  ///< program, version, inputs: the last line; JSON says it in its own way
};

}  // namespace whorl::document
